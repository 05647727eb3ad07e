package logs

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/sim"
)

// Proposal is a mapping drawn from a log's header and some of its rows. What is left open in Doubts has
// to be answered by a person before the log can be read.
type Proposal struct {
	Mapping *Mapping
	Because map[string]string // by column, and "time": what the guess rests on
	Doubts  []string
	Left    []Left
}

// Left is a column that the mapping leaves out.
type Left struct{ Column, Why string }

// YAML gives the proposal as a mapping file, with its reasons and doubts as comments.
func (p *Proposal) YAML() []byte {
	var b bytes.Buffer
	for _, d := range p.Doubts {
		fmt.Fprintf(&b, "# CHECK: %s\n", d)
	}
	b.Write(p.Mapping.YAML(p.Because))
	for _, l := range p.Left {
		fmt.Fprintf(&b, "# left out: %s: %s\n", l.Column, l.Why)
	}
	return b.Bytes()
}

// Propose reads the beginning of a table, and of a file some rows of all of it, and proposes a mapping.
func Propose(r io.Reader, name string) (*Proposal, error) {
	g := &glance{lines: newLines(io.LimitReader(r, glanceBytes), name, nil)}
	if err := g.read(); err != nil {
		return nil, err
	}
	if s, ok := r.(io.ReadSeeker); ok {
		g.spread(s)
	}
	g.cut()
	if g.p.Mapping.Columns == nil {
		found := fmt.Sprintf("a table of %d columns, none of which is known by its name", g.width)
		if g.p.Mapping.Time.Column != "" {
			found = fmt.Sprintf("a table of %d columns, none of which but the time is known by its name", g.width)
		}
		return nil, harness.Problem{Place: harness.Place{File: name, Line: max(g.header, 1), Column: 1}, Found: found, Wanted: "columns such as time, pressure, accel x", Hint: "name the columns in the header, or write a mapping with columns by number, as in {column: \"#3\", is: barometer pressure, unit: Pa}"}
	}
	return &g.p, nil
}

// cut turns what was seen into a proposal.
func (g *glance) cut() {
	m := &Mapping{Kind: "mapping", Delimiter: "comma", Decimal: "point", Header: g.header, Units: g.unitLine}
	for word, d := range delimiters {
		if d == g.delim {
			m.Delimiter = word
		}
	}
	if g.comma {
		m.Decimal = "comma"
	}
	g.p = Proposal{Mapping: m, Because: map[string]string{}}
	if g.header == 0 {
		g.nameless()
		return
	}
	at := g.clock()
	if at < 0 {
		g.doubt("no column is known as the time; give time: {column: NAME, unit: s}, or time: {rate: 200 Hz} when rows come at a steady rate")
	}
	g.taken = map[string]string{}
	if !g.ours() {
		g.whoseHeight()
	}
	for i := range g.width {
		if i != at && !g.named[i] {
			g.column(i)
		}
	}
	g.rates()
	if !g.ours() {
		g.pads()
		g.upAxis()
	}
}

// whoseHeight asks who tells a height beside a receiver's position, where no pressure and no other height is told and the
// name says no more: the receiver, in a log that holds nothing else; else it has to be asked.
func (g *glance) whoseHeight() {
	h := g.find("barometer height")
	if h < 0 || g.find("gnss latitude") < 0 || g.find("gnss height") >= 0 || g.find("barometer pressure") >= 0 {
		return
	}
	if t := newTitle(g.names[h], g.units[h]); t.has(pressWords...) {
		return
	}
	if !slices.ContainsFunc(g.meant, func(u understood) bool { return strings.HasPrefix(u.is, "accelerometer ") }) {
		g.meant[h].is = "gnss height"
		return
	}
	g.doubt("column %s stands beside a receiver's position, and no pressure: is it a barometer's height or the receiver's?", g.label(h))
}

// ours says that the table was written by Write, whose words leave nothing open.
func (g *glance) ours() bool {
	for i, u := range g.meant {
		if !u.ours && u.is != isCommand && !strings.HasPrefix(g.names[i], isOutput+" ") {
			return false
		}
	}
	return true
}

func (g *glance) doubt(format string, a ...any) {
	g.p.Doubts = append(g.p.Doubts, fmt.Sprintf(format, a...))
}

func (g *glance) leave(i int, format string, a ...any) {
	g.p.Left = append(g.p.Left, Left{g.label(i), fmt.Sprintf(format, a...)})
}

// label is how the mapping names a column.
func (g *glance) label(i int) string {
	if g.names[i] == "" || slices.Index(g.names, g.names[i]) != i || slices.Contains(g.names[i+1:], g.names[i]) {
		return "#" + strconv.Itoa(i+1)
	}
	return g.names[i]
}

// column proposes what one column means.
func (g *glance) column(i int) {
	u := g.meant[i]
	switch {
	case u.is == isTime:
		g.leave(i, "it does not go up as a clock does")
		return
	case u.is == "":
		if g.names[i] != "" || len(seen(g.data[i])) > 0 {
			g.leave(i, "%s", u.why)
		}
		return
	case u.is == ownState || u.is == isCommand:
		g.put(i, Column{Is: u.is})
		return
	case u.is == isOutput:
		g.output(i)
		return
	case len(seen(g.data[i])) == 0:
		g.leave(i, "no number in its first rows")
		return
	}
	if other := g.rival(i, u.is); other != "" {
		g.leave(i, "%s", other)
		return
	}
	c := Column{Is: u.is}
	d := dimensionOf(u.is)
	if newTitle(g.names[i], g.units[i]).raw {
		g.put(i, c)
		g.doubt("column %s is %s in counts of a converter: which unit, `scale` and `offset` make them one?", g.label(i), u.is)
		return
	}
	guess := g.unit(i, u, d)
	if u.bare && guess.doubt != "" {
		guess.leave = "neither its name of one letter nor its numbers tell what it is"
	}
	if guess.leave != "" {
		g.leave(i, "%s", guess.leave)
		return
	}
	c.Unit, c.Scale = guess.unit, guess.scale
	g.put(i, c)
	if guess.doubt != "" {
		g.doubt("column %s is %s, but %s", g.label(i), u.is, guess.doubt)
	}
	if guess.why != "" {
		g.p.Because[g.label(i)] = guess.why
	}
}

func (g *glance) put(i int, c Column) {
	c.Column = g.label(i)
	g.p.Mapping.Columns = append(g.p.Mapping.Columns, c)
	g.taken[c.Is] = c.Column
	g.index = append(g.index, i)
}

// rival says why a column has to stand back behind another of the same meaning.
func (g *glance) rival(i int, is string) string {
	if first := g.taken[is]; first != "" {
		return fmt.Sprintf("a second %s; %s counts", is, first)
	}
	return ""
}

// output proposes a column that holds 0 and 1.
func (g *glance) output(i int) {
	for _, x := range append(seen(g.data[i]), seen(g.far[i])...) {
		if x != 0 && x != 1 {
			g.leave(i, "named like an output, but it holds %g, where an output is 0 or 1", x)
			return
		}
	}
	x := seen(g.data[i])
	if len(x) == 0 && !g.switches(i) {
		g.leave(i, "named like an output, but it holds neither 0 and 1 nor on and off")
		return
	}
	n := 0
	for _, w := range newTitle(g.names[i], "").words {
		if k, err := strconv.Atoi(w); err == nil {
			n = k
		}
	}
	if n < 1 || n > 16 || g.taken[fmt.Sprintf("%s %d", isOutput, n)] != "" {
		for n = 1; n < 16 && (g.taken[fmt.Sprintf("%s %d", isOutput, n)] != "" || g.wished(n)); n++ {
		}
	}
	if len(x) > 0 && x[0] == 1 {
		g.doubt("column %s is on in the first row: is it an output that has fired, or one that tells whether an igniter is connected?", g.label(i))
	}
	g.put(i, Column{Is: fmt.Sprintf("%s %d", isOutput, n)})
}

// asked lists the columns that mean a thing.
func (g *glance) asked(is string) (out []int) {
	for i, u := range g.meant {
		if u.is == is {
			out = append(out, i)
		}
	}
	return out
}

// wished says that another column names this number of an output.
func (g *glance) wished(n int) bool {
	return slices.ContainsFunc(g.asked(isOutput), func(i int) bool {
		return slices.Contains(newTitle(g.names[i], "").words, strconv.Itoa(n))
	})
}

// rates says how often a part is sampled whose values stand in more rows than it has samples: the fastest of
// its columns tells; one column whose value changes from row to row means that every row is a sample.
func (g *glance) rates() {
	cols := g.p.Mapping.Columns
	var rate [sim.PartBattery + 1]float64
	var every [sim.PartBattery + 1]bool
	for k := range cols {
		ch, ok := channelNamed(cols[k].Is)
		if !ok || ch.Part == sim.PartBattery && !g.paced(g.index[k]) || ch.Word == "gnss fix" || ch.Word == "gnss satellites" || ch.Word == "barometer temperature" {
			continue
		}
		hz, told := g.slower(g.index[k])
		every[ch.Part] = every[ch.Part] || !told
		rate[ch.Part] = max(rate[ch.Part], hz)
	}
	for k := range cols {
		if ch, ok := channelNamed(cols[k].Is); ok && !every[ch.Part] && rate[ch.Part] > 0 {
			cols[k].Rate = fmt.Sprintf("%g Hz", rate[ch.Part])
		}
	}
}
