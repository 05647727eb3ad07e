package logs

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/sim"
)

// Proposal is a mapping drawn from a log's header and its first rows. What is left open in Doubts has
// to be answered by a person before the log can be read.
type Proposal struct {
	Mapping *Mapping
	Because map[string]string // by column, and "time": what the guess rests on
	Doubts  []string
	Ignored []string // columns that nothing is known of
}

// YAML gives the proposal as a mapping file, with its reasons and doubts as comments.
func (p *Proposal) YAML() []byte {
	var b bytes.Buffer
	for _, d := range p.Doubts {
		fmt.Fprintf(&b, "# CHECK: %s\n", d)
	}
	b.Write(p.Mapping.YAML(p.Because))
	if len(p.Ignored) > 0 {
		fmt.Fprintf(&b, "# left out: %s\n", strings.Join(p.Ignored, ", "))
	}
	return b.Bytes()
}

const glanceRows = 2000

// Propose reads the beginning of a table and proposes a mapping.
func Propose(r io.Reader, name string) (*Proposal, error) {
	g := &glance{lines: newLines(io.LimitReader(r, 1<<20), name, nil)}
	if err := g.read(); err != nil {
		return nil, err
	}
	g.cut()
	if g.p.Mapping.Columns == nil && g.p.Mapping.Time.Column == "" {
		return nil, harness.Problem{Place: harness.Place{File: name, Line: g.header + 1, Column: 1}, Found: fmt.Sprintf("a table of %d columns, none of which is known by its name", g.width), Wanted: "columns such as time, pressure, accel x", Hint: "name the columns in the header, or write a mapping with columns by number, as in {column: \"#3\", is: barometer pressure, unit: Pa}"}
	}
	return &g.p, nil
}

// glance is the first rows of a table.
type glance struct {
	lines  *lines
	rows   [][]byte
	at     []int // line of each row
	header int   // line of the header, 0: none
	names  []string
	units  []string
	width  int
	delim  byte
	comma  bool
	data   [][]float64 // by column; rows without a number there are left out
	gaps   []float64   // by column: share of rows without a number
	p      Proposal
}

func (g *glance) read() error {
	for len(g.rows) < glanceRows {
		line, err := g.lines.next()
		if errors.Is(err, io.EOF) || err != nil && len(g.rows) > 10 && g.lines.read >= 1<<20 {
			break
		}
		if err != nil {
			return err
		}
		if len(bytes.TrimSpace(line)) == 0 || line[0] == '#' {
			continue
		}
		g.rows, g.at = append(g.rows, bytes.Clone(line)), append(g.at, g.lines.n)
	}
	if len(g.rows) > 2 && g.lines.last {
		g.rows = g.rows[:len(g.rows)-1] // may be cut
	}
	if len(g.rows) < 2 {
		return harness.Problem{Place: harness.Place{File: g.lines.file, Line: 1, Column: 1}, Found: fmt.Sprintf("%d lines of text", len(g.rows)), Wanted: "a log: a table with a row per instant"}
	}
	if err := g.delimiter(); err != nil {
		return err
	}
	return g.columns()
}

// delimiter takes the sign that cuts most rows into the same number of cells, more than one.
func (g *glance) delimiter() error {
	best := 0
	for _, d := range []byte{';', '\t', ',', ' '} {
		count := map[int]int{}
		for _, r := range g.rows {
			count[len(split(r, d, nil))]++
		}
		for width := 2; width <= mostCells; width++ {
			if n := count[width]; n > best {
				best, g.delim, g.width = n, d, width
			}
		}
	}
	if best*2 < len(g.rows) {
		row := g.rows[len(g.rows)/2]
		return harness.Problem{Place: harness.Place{File: g.lines.file, Line: g.at[len(g.rows)/2], Column: 1}, Found: fmt.Sprintf("%q: rows are not cut alike by comma, semicolon, tab or blanks", string(row[:min(len(row), 40)])), Wanted: "a table with the same cells in each row, at most " + strconv.Itoa(mostCells), Hint: "is this a log of text, and one table only?"}
	}
	return nil
}

// columns reads the numbers of every column, and the header above them.
func (g *glance) columns() error {
	points, commas := 0, 0
	for _, r := range g.rows {
		for _, c := range split(r, g.delim, nil) {
			if _, ok := number(c.text, false); ok && bytes.IndexByte(c.text, '.') >= 0 {
				points++
			} else if _, ok := number(c.text, true); ok && bytes.IndexByte(c.text, ',') >= 0 {
				commas++
			}
		}
	}
	g.comma = commas > points
	first := -1
	for i, r := range g.rows {
		cells, n, full := split(r, g.delim, nil), 0, 0
		for _, c := range cells {
			if len(c.text) > 0 {
				full++
			}
			if g.isNumber(c.text) {
				n++
			}
		}
		if len(cells) == g.width && n*2 > full && n > 0 {
			first = i
			break
		}
	}
	if first < 0 {
		return harness.Problem{Place: harness.Place{File: g.lines.file, Line: g.at[0], Column: 1}, Found: "no row of numbers", Wanted: "a table of numbers"}
	}
	g.names, g.units = make([]string, g.width), make([]string, g.width)
	if first > 0 {
		g.header = g.at[first-1]
		for i, c := range split(g.rows[first-1], g.delim, nil) {
			if i < g.width {
				g.names[i] = string(c.text)
				g.units[i] = unitIn(g.names[i])
			}
		}
	}
	g.numbers(first)
	return nil
}

func (g *glance) isNumber(b []byte) bool {
	if _, ok := number(b, g.comma); ok {
		return true
	}
	_, ok := timeOfDay(b, g.comma)
	return ok
}

func (g *glance) numbers(first int) {
	g.data, g.gaps = make([][]float64, g.width), make([]float64, g.width)
	var cells []cell
	rows := g.rows[first:]
	for _, r := range rows {
		cells = split(r, g.delim, cells)
		for i, c := range cells[:min(len(cells), g.width)] {
			x, ok := number(c.text, g.comma)
			if !ok {
				x, ok = timeOfDay(c.text, g.comma)
			}
			if ok {
				g.data[i] = append(g.data[i], x)
			} else {
				g.gaps[i]++
			}
		}
	}
	for i := range g.gaps {
		g.gaps[i] /= float64(len(rows))
	}
}

// cut turns what was seen into a proposal.
func (g *glance) cut() {
	m := &Mapping{Kind: "mapping", Delimiter: "comma", Decimal: "point", Header: g.header}
	for word, d := range delimiters {
		if d == g.delim {
			m.Delimiter = word
		}
	}
	if g.comma {
		m.Decimal = "comma"
	}
	g.p = Proposal{Mapping: m, Because: map[string]string{}}
	at := g.clock()
	taken := map[string]bool{}
	for i := range g.width {
		if i == at {
			continue
		}
		g.column(i, taken)
	}
	g.upAxis()
	if m.Time.Column == "" && m.Time.Rate == "" {
		g.doubt("no column is known as the time; give time: {column: NAME, unit: s}, or time: {rate: 200 Hz} when rows come at a steady rate")
	}
}

func (g *glance) doubt(format string, a ...any) {
	g.p.Doubts = append(g.p.Doubts, fmt.Sprintf(format, a...))
}

// label is how the mapping names a column.
func (g *glance) label(i int) string {
	if g.names[i] != "" {
		for j, n := range g.names {
			if n == g.names[i] && j != i {
				return "#" + strconv.Itoa(i+1)
			}
		}
		return g.names[i]
	}
	return "#" + strconv.Itoa(i+1)
}

// column proposes what one column means.
func (g *glance) column(i int, taken map[string]bool) {
	if n, ok := strings.CutPrefix(strings.ToLower(g.names[i]), "output "); ok {
		if k, _, _ := strings.Cut(n, " "); len(k) > 0 && k[0] >= '1' && k[0] <= '9' {
			g.p.Mapping.Columns = append(g.p.Mapping.Columns, Column{Column: g.label(i), Is: "output " + k})
			return
		}
	}
	if strings.EqualFold(g.names[i], "command") {
		g.p.Mapping.Columns = append(g.p.Mapping.Columns, Column{Column: g.label(i), Is: "command"})
		return
	}
	word := meaning(g.names[i])
	if word == "" || taken[word] || len(g.data[i]) == 0 {
		if g.names[i] != "" {
			g.p.Ignored = append(g.p.Ignored, g.names[i])
		}
		return
	}
	taken[word] = true
	c := Column{Column: g.label(i), Is: word}
	ch, _ := channelNamed(word)
	var why string
	c.Unit, why = g.unit(i, ch)
	if c.Unit == "?" {
		c.Unit = ""
		g.doubt("column %s is %s, but in which unit?", c.Column, word)
	}
	if why != "" {
		g.p.Because[c.Column] = why
	}
	if ch.Part != sim.PartBattery {
		c.Rate = g.slower(i)
	}
	g.p.Mapping.Columns = append(g.p.Mapping.Columns, c)
}
