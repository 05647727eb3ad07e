package logs

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
)

const (
	glanceRows  = 8000
	glanceBytes = 2 << 20
	farWindows  = 12       // of a file, spread over what lies behind the first rows
	farBytes    = 16 << 10 // each
)

// glance is what is seen of a table: its first rows, and of a file some more.
type glance struct {
	lines     *lines
	rows      [][]byte
	at        []int // line of each row
	comments  []row
	header    int // line of the header, 0: none
	unitLine  int // line below it that tells the units, 0: none
	names     []string
	units     []string // as that line tells them
	meant     []understood
	named     []bool // by column: it has been told of
	width     int
	delim     byte
	comma     bool
	data      [][]float64 // by column, a value a row; NaN: none
	words     [][]string  // by column, of the first rows: cells that are no number
	far       [][]float64 // of the windows; in both, rows are in order of time
	gaps      []float64   // by column: share of rows without a number
	taken     map[string]string
	index     []int   // by column of the mapping: the table's
	stepOf    string  // the clock's column whose usual step has been found
	usualStep float64 // in the clock's unit
	p         Proposal
}

type row struct {
	text []byte
	at   int
}

// isComment says that a line is a remark: it begins with #, // or %, or with ; where that parts no cells.
func isComment(line []byte, delimiter byte) bool {
	return len(line) > 0 && (line[0] == '#' || line[0] == '%' || line[0] == ';' && delimiter != ';' || len(line) > 1 && line[0] == '/' && line[1] == '/')
}

func uncommented(line []byte) []byte { return bytes.TrimLeft(line, "#%;/ \t") }

func (g *glance) read() error {
	for len(g.rows) < glanceRows {
		line, err := g.lines.next()
		if errors.Is(err, io.EOF) || err != nil && len(g.rows) > 10 && g.lines.read >= glanceBytes {
			break
		}
		if err != nil {
			return err
		}
		if isComment(line, ';') {
			if len(g.comments) < 1000 {
				g.comments = append(g.comments, row{bytes.Clone(line), g.lines.n})
			}
			continue
		}
		if len(bytes.TrimSpace(line)) == 0 {
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

// delimiter takes the sign that cuts most rows into the same number of cells, more than one, and most of the
// cells into numbers.
func (g *glance) delimiter() error {
	best, alike := 0.0, 0
	rows := g.rows[:min(len(g.rows), 1000)]
	var cells []cell
	tabs := 0
	for _, r := range rows {
		if bytes.IndexByte(r, '\t') >= 0 {
			tabs++
		}
	}
	for _, d := range []byte{';', '\t', ',', ' '} {
		if d == ' ' && tabs*10 > 9*len(rows) && g.delim == '\t' {
			continue // blanks would swallow empty cells
		}
		count, numbers := map[int]int{}, map[int]int{}
		for _, r := range rows {
			cells = split(r, d, cells)
			count[len(cells)]++
			for _, c := range cells {
				if len(c.text) == 0 || isNumber(c.text, false) || isNumber(c.text, true) {
					numbers[len(cells)]++
				}
			}
		}
		for width := 2; width <= mostCells; width++ {
			n := count[width]
			if score := float64(n) * (0.2 + float64(numbers[width])/float64(max(n*width, 1))); score > best {
				best, alike, g.delim, g.width = score, n, d, width
			}
		}
	}
	if alike*2 < len(rows) {
		k := len(rows) / 2
		return harness.Problem{Place: harness.Place{File: g.lines.file, Line: g.at[k], Column: 1}, Found: fmt.Sprintf("%q: rows are not cut alike by comma, semicolon, tab or blanks", string(rows[k][:min(len(rows[k]), 40)])), Wanted: "a table with the same cells in each row, at most " + strconv.Itoa(mostCells), Hint: "is this a log of text, and one table only?"}
	}
	keep := 0
	for i, r := range g.rows {
		if isComment(r, g.delim) {
			g.comments = append(g.comments, row{r, g.at[i]})
			continue
		}
		g.rows[keep], g.at[keep] = r, g.at[i]
		keep++
	}
	g.rows, g.at = g.rows[:keep], g.at[:keep]
	return nil
}

func isNumber(b []byte, comma bool) bool {
	if _, ok := number(b, comma); ok {
		return true
	}
	_, ok := timeOfDay(b, comma)
	return ok
}

// columns finds the header, and reads the numbers of every column below it.
func (g *glance) columns() error {
	points, commas := 0, 0
	for _, r := range g.rows {
		for _, c := range split(r, g.delim, nil) {
			if isNumber(c.text, false) && bytes.IndexByte(c.text, '.') >= 0 {
				points++
			} else if isNumber(c.text, true) && bytes.IndexByte(c.text, ',') >= 0 {
				commas++
			}
		}
	}
	g.comma = commas > points
	first := -1
	for i, r := range g.rows {
		cells, n, full := split(r, g.delim, nil), 0, 0
		for _, c := range cells {
			if len(c.text) > 0 && !isNothing(c.text) {
				full++
			}
			if isNumber(c.text, g.comma) {
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
	g.names, g.units, g.named = make([]string, g.width), make([]string, g.width), make([]bool, g.width)
	g.heading(first)
	for i := range g.width {
		g.meant = append(g.meant, understand(g.names[i], g.units[i]))
	}
	g.data, g.words = g.numbers(g.rows[first:])
	g.far = make([][]float64, g.width)
	g.gaps = make([]float64, g.width)
	for i, x := range g.data {
		g.gaps[i] = 1 - float64(len(seen(x)))/float64(len(x))
	}
	return nil
}

// heading finds the names above the first row of numbers, and the line of units below them.
func (g *glance) heading(first int) {
	k := first - 1
	remark := g.remark(g.at[first])
	if k >= 0 && g.allUnits(g.rows[k]) && (k > 0 && g.wide(g.rows[k-1]) || remark.text != nil) {
		g.unitLine = g.at[k]
		for i, c := range split(g.rows[k], g.delim, nil) {
			if i < g.width && !isNothing(c.text) {
				g.units[i] = strings.Trim(string(c.text), "[](){} ")
			}
		}
		k--
	}
	var line []byte
	switch {
	case k >= 0 && g.wide(g.rows[k]):
		line, g.header = g.rows[k], g.at[k]
	case remark.text != nil:
		line, g.header = remark.text, remark.at
	}
	for i, c := range split(line, g.delim, nil) {
		if i < g.width {
			g.names[i] = string(c.text)
		}
	}
}

// remark gives the last remark above a line that has the names of columns in it.
func (g *glance) remark(above int) (r row) {
	for _, c := range g.comments {
		if text := uncommented(c.text); c.at < above && g.wide(text) && g.knownWords(text) {
			r = row{text, c.at}
		}
	}
	return r
}

// wide says that a line has as many cells as the rows, or one less where rows end in a delimiter.
func (g *glance) wide(line []byte) bool {
	n := len(split(line, g.delim, nil))
	return n == g.width || n == g.width-1 && n > 1
}

// knownWords says that a remark has the names of columns in it.
func (g *glance) knownWords(line []byte) bool {
	n := 0
	for _, c := range split(line, g.delim, nil) {
		u := understand(string(c.text), "")
		if _, clock := clockLike(string(c.text), ""); clock || u.is != "" {
			n++
		}
	}
	return n > 1
}

// allUnits says that a line has units in its cells, and no numbers. Some may be of things that no mapping needs.
func (g *glance) allUnits(line []byte) bool {
	n, others := 0, 0
	for _, c := range split(line, g.delim, nil) {
		text := strings.Trim(string(c.text), "[](){}")
		switch {
		case isUnit(text):
			n++
		case text != "" && !isNothing([]byte(text)) && text != "1" && text != "#" && text != "hh:mm:ss" && text != "text" && text != "bool":
			if others++; len(text) > longestUnit || isNumber(c.text, g.comma) {
				return false
			}
		}
	}
	return n > 0 && others <= n/2
}

const longestUnit = 6 // letters of a unit that is not known, such as dBm

// numbers reads rows column by column.
func (g *glance) numbers(rows [][]byte) (data [][]float64, words [][]string) {
	data, words = make([][]float64, g.width), make([][]string, g.width)
	var cells []cell
	for _, r := range rows {
		cells = split(r, g.delim, cells)
		for i := range g.width {
			x := math.NaN()
			if i < len(cells) {
				v, ok := number(cells[i].text, g.comma)
				if !ok {
					v, ok = timeOfDay(cells[i].text, g.comma)
				}
				switch {
				case ok:
					x = v
				case len(cells[i].text) > 0 && len(words[i]) < 100:
					words[i] = append(words[i], string(cells[i].text))
				}
			}
			data[i] = append(data[i], x)
		}
	}
	return data, words
}

// switches says that a column says on and off in words.
func (g *glance) switches(i int) bool {
	return len(g.words[i]) > 0 && !slices.ContainsFunc(g.words[i], func(w string) bool { _, ok := onOff([]byte(w)); return !ok })
}

// spread reads some rows from all over a file, so that more than the pad is seen. What can't be read there is
// left to the reading of the log.
func (g *glance) spread(s io.ReadSeeker) {
	from, end := g.lines.read, int64(0)
	end, err := s.Seek(0, io.SeekEnd)
	if err != nil || end <= from {
		return
	}
	var rows [][]byte
	buf := make([]byte, farBytes)
	for k := range farWindows {
		at := from + (end-from)*int64(k)/farWindows
		if k == farWindows-1 {
			at = max(from, end-farBytes)
		}
		if _, err := s.Seek(at, io.SeekStart); err != nil {
			return
		}
		n, _ := io.ReadFull(s, buf)
		lines := bytes.Split(buf[:n], []byte("\n"))
		for _, line := range lines[min(1, len(lines)):max(len(lines)-1, min(1, len(lines)))] {
			if line = bytes.TrimRight(line, "\r"); len(line) > 0 && !isComment(line, g.delim) {
				rows = append(rows, bytes.Clone(line))
			}
		}
	}
	g.far, _ = g.numbers(rows)
}

// seen gives the numbers of a column without its gaps.
func seen(x []float64) []float64 {
	return slices.DeleteFunc(slices.Clone(x), math.IsNaN)
}

func middle(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	y := slices.Clone(x)
	slices.Sort(y)
	return y[len(y)/2]
}
