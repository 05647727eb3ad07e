package logs

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/spelling"
	"drystage/sim"
	"drystage/sim/quantity"
)

// Options of reading; the zero value is good.
type Options struct {
	Told func(read int64) // called now and then with the number of bytes read
	Most int              // samples; 0: MostSamples
	size int64            // bytes of the file; 0: not known
}

// ReadTable reads a table by its mapping. An error is a harness.Problem, or of r; what could be mended
// is in the log's Notes.
func ReadTable(r io.Reader, name string, m *Mapping, opt Options) (*Log, error) {
	t := &table{lines: newLines(r, name, opt.Told), m: m, b: newBuilder(name, opt.Most)}
	if err := t.head(); err != nil {
		return nil, err
	}
	for {
		line, err := t.lines.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		if len(bytes.TrimSpace(line)) == 0 || isComment(line, delimiters[m.Delimiter]) || t.lines.n == m.Units {
			continue
		}
		if err := t.row(line); err != nil {
			return nil, err
		}
		if t.rows == 10000 && opt.size > t.lines.read {
			t.b.reserve(float64(opt.size) / float64(t.lines.read))
		}
	}
	if t.b.log.Samples() == 0 {
		return nil, harness.Problem{Place: t.lines.place(0), Found: fmt.Sprintf("no sample in %d rows", t.rows), Wanted: "rows with a time and numbers", Hint: "check the mapping"}
	}
	return t.b.done(), nil
}

// table is a table being read.
type table struct {
	lines *lines
	m     *Mapping
	b     *builder
	cols  []column
	parts [sim.PartBattery + 1]pace
	time  int // index of the time's column; -1: rows come at a rate
	clock ticker
	cells []cell
	width int // cells of the header, or of the first row
	rows  int
	bad   int
	now   sim.Time
}

// column is a column of the mapping, ready for reading.
type column struct {
	at            int
	channel       Channel
	factor, shift float64
	output        int    // from 1; 0: none
	word          string // command, board speed or board state; "" of a channel or output
	name          string
	on            bool
	text          []byte // of the last sample taken
}

// pace takes every sample of a slower sensor once from rows that repeat it.
type pace struct {
	period sim.Time // 0: every row with a value is a sample
	last   sim.Time
	begun  bool
	some   bool
}

// head reads up to the header and finds the columns.
func (t *table) head() error {
	var names []string
	for i := 0; i < t.m.Header; i++ {
		line, err := t.lines.next()
		if errors.Is(err, io.EOF) {
			return harness.Problem{Place: t.lines.place(0), Found: "the end of the file", Wanted: fmt.Sprintf("a header on line %d", t.m.Header)}
		}
		if err != nil {
			return err
		}
		if i == t.m.Header-1 {
			if isComment(line, delimiters[t.m.Delimiter]) {
				line = uncommented(line)
			}
			t.cells = split(line, delimiters[t.m.Delimiter], t.cells)
			if len(t.cells) > mostCells {
				return t.tooWide()
			}
			for _, c := range t.cells {
				names = append(names, string(c.text))
			}
		}
	}
	t.width = len(names)
	t.clock = newTicker(&t.m.Time)
	if u := t.m.Time.Unit; u == "ms" || u == "us" || u == "ticks" {
		t.b.unit = t.clock.factor
	}
	if t.m.Time.Start != "" {
		t.b.first, t.b.origin, t.b.log.Origin = false, t.clock.start, t.clock.start
	}
	t.time = -1
	var errs []error
	if t.m.Time.Column != "" {
		var err error
		if t.time, err = t.find("time.column", t.m.Time.Column, names); err != nil {
			errs = append(errs, err)
		}
	}
	for i, c := range t.m.Columns {
		col, err := t.column(i, c, names)
		if err != nil {
			errs = append(errs, err)
		}
		t.cols = append(t.cols, col)
	}
	return errors.Join(errs...)
}

func (t *table) tooWide() error {
	return harness.Problem{Place: t.lines.place(1), Found: fmt.Sprintf("more than %d cells in a line", mostCells), Wanted: "a table of a log", Hint: "check `delimiter` in the mapping"}
}

func (t *table) column(i int, c Column, names []string) (column, error) {
	at, err := t.find(fmt.Sprintf("columns[%d].column", i), c.Column, names)
	col := column{at: at, name: c.Column}
	if c.Is == isCommand || c.Is == ownState {
		col.word = c.Is
		return col, err
	}
	if n, ok := strings.CutPrefix(c.Is, "output "); ok {
		col.output, _ = strconv.Atoi(n)
		if w := strings.Fields(c.Column); len(w) > 2 && w[0] == "output" {
			col.name = strings.Join(w[2:], " ")
		}
		return col, err
	}
	col.channel, _ = channelNamed(c.Is)
	col.factor, col.shift, _ = scale(c.Unit, dimensionOf(c.Is))
	if c.Offset != nil {
		col.shift += *c.Offset * col.factor
	}
	if c.Scale != nil {
		col.factor *= *c.Scale
	}
	if c.Sign == "-" {
		col.factor, col.shift = -col.factor, -col.shift
	}
	if c.Rate != "" {
		hz, _ := quantity.Parse(c.Rate, quantity.Frequency)
		t.parts[col.channel.Part].period = sim.Seconds(1 / hz)
	}
	if c.Is == ownSpeed {
		col.word = c.Is
	} else {
		t.b.want(col.channel)
	}
	return col, err
}

// find gives the index of a column by its name or its number.
func (t *table) find(path, name string, names []string) (int, error) {
	for i, n := range names {
		if n == name {
			return i, nil
		}
	}
	if n, err := strconv.Atoi(strings.TrimPrefix(name, "#")); err == nil && n >= 1 && n <= mostCells {
		return n - 1, nil
	}
	short := names[:min(len(names), 20)]
	return -1, t.m.wrong(path, fmt.Sprintf("column %q, which the log does not have", name), "one of "+strings.Join(short, ", ")+", or a number such as #3", spelling.Hint(name, short))
}

// row takes the samples of one line.
func (t *table) row(line []byte) error {
	t.cells = split(line, delimiters[t.m.Delimiter], t.cells)
	if len(t.cells) > mostCells {
		return t.tooWide()
	}
	if t.width == 0 {
		t.width = len(t.cells)
	}
	if t.lines.last {
		t.b.note(t.lines.place(1), Cut, "the last line has no end, so that its last number may be cut; it was left out")
		return nil
	}
	t.rows++
	ok, err := t.stamp()
	if err != nil || !ok {
		return err
	}
	return t.samples()
}

// stamp reads the row's time into t.now.
func (t *table) stamp() (ok bool, err error) {
	raw := t.clock.row(t.rows - 1)
	at := t.lines.place(1)
	if t.time >= 0 {
		if t.time >= len(t.cells) {
			return false, t.damage(len(t.cells)-1, "a row that ends before its time")
		}
		at = t.lines.place(t.cells[t.time].at)
		if raw, ok = t.clock.read(t.cells[t.time].text, t.m.Decimal == "comma"); !ok {
			return false, t.damage(t.time, "no time")
		}
	}
	t.now, ok = t.b.stamp(raw, at)
	return ok, nil
}

// damage notes a cell that can't be read; too many of them make the file of no use.
func (t *table) damage(i int, what string) error {
	text, at := "", 1
	if i >= 0 && i < len(t.cells) {
		text, at = string(t.cells[i].text[:min(len(t.cells[i].text), 40)]), t.cells[i].at
	}
	t.bad++
	if t.bad > 20 && t.bad*20 > t.rows {
		return harness.Problem{Place: t.lines.place(at), Found: fmt.Sprintf("%q, %s, as the %s such cell in %d rows", text, what, ordinal(t.bad), t.rows), Wanted: "a log in which nearly every cell can be read", Hint: "check delimiter, decimal and units of the mapping"}
	}
	t.b.note(t.lines.place(at), Damage, fmt.Sprintf("%q: %s; left out", text, what))
	return nil
}

func ordinal(n int) string {
	switch {
	case n%10 == 1 && n%100 != 11:
		return fmt.Sprintf("%dst", n)
	case n%10 == 2 && n%100 != 12:
		return fmt.Sprintf("%dnd", n)
	case n%10 == 3 && n%100 != 13:
		return fmt.Sprintf("%drd", n)
	}
	return fmt.Sprintf("%dth", n)
}

// samples takes the row's cells into the log.
func (t *table) samples() error {
	for p := range t.parts {
		t.parts[p].some = t.parts[p].period == 0
	}
	for i := range t.cols {
		c := &t.cols[i]
		if p := &t.parts[c.channel.Part]; p.period > 0 && c.at < len(t.cells) {
			since := t.now - p.last
			changed := !bytes.Equal(c.text, t.cells[c.at].text)
			p.some = p.some || !p.begun || changed && since >= p.period/2 || since >= p.period
		}
	}
	for p := range t.parts {
		if pc := &t.parts[p]; pc.period > 0 && pc.some {
			pc.last, pc.begun = t.now, true
		}
	}
	for i := range t.cols {
		c := &t.cols[i]
		if c.at >= len(t.cells) || len(t.cells[c.at].text) == 0 || !t.parts[c.channel.Part].some {
			continue
		}
		if err := t.cell(c); err != nil {
			return err
		}
	}
	return t.b.row(t.lines.place(1))
}

func (t *table) cell(c *column) error {
	text := t.cells[c.at].text
	if t.parts[c.channel.Part].period > 0 {
		c.text = append(c.text[:0], text...)
	}
	switch c.word {
	case isCommand:
		return t.command(c.at, string(text))
	case ownState:
		t.b.state(text)
		return nil
	}
	x, ok := number(text, t.m.Decimal == "comma")
	if !ok && c.output > 0 {
		x, ok = onOff(text)
	}
	if !ok {
		if isNothing(text) {
			return nil
		}
		return t.damage(c.at, "no number")
	}
	if c.output > 0 {
		if on := x != 0; on != c.on {
			c.on = on
			t.b.log.Outputs = append(t.b.log.Outputs, Output{Channel: c.output, Name: c.name, On: on, At: t.now})
		}
		return nil
	}
	if c.word == ownSpeed {
		t.b.speed(x*c.factor + c.shift)
		return nil
	}
	n, ok := c.channel.counts(x*c.factor + c.shift)
	if !ok {
		return t.damage(c.at, "too large for "+c.channel.Word)
	}
	t.b.set(c.channel, n)
	return nil
}

// isNothing knows the words that tables have for no value.
func isNothing(b []byte) bool {
	switch strings.ToLower(string(b)) {
	case "nan", "null", "none", "-", "n/a", "na":
		return true
	}
	return false
}

// onOff reads an output's state as a word.
func onOff(b []byte) (x float64, ok bool) {
	switch strings.ToLower(string(b)) {
	case "on", "true", "yes", "fired":
		return 1, true
	case "off", "false", "no":
		return 0, true
	}
	return 0, false
}

func (t *table) command(i int, word string) error {
	for bit, w := range []string{"arm", "disarm", "stage"} {
		if word == w {
			t.b.log.Commands = append(t.b.log.Commands, Command{At: t.now, What: 1 << bit})
			return nil
		}
	}
	return t.damage(i, "no command; arm, disarm or stage")
}
