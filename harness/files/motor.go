package files

import (
	"math"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// motorBlock is the header of a motor file, written as `# key: value` lines.
var motorBlock = block{"the header of a motor file", []field{
	{key: "name", form: asText, need: true, doc: "of the motor"},
	{key: "propellant", form: asQuantity, dim: quantity.Mass, least: 1e-4, most: 2000, need: true, doc: "burnt in proportion to impulse"},
	{key: "case", form: asQuantity, dim: quantity.Mass, least: 0, most: 2000, need: true, doc: "all that stays"},
	{key: "length", form: asQuantity, dim: quantity.Length, least: 0.01, most: 20, need: true, doc: "of the motor"},
	{key: "diameter", form: asQuantity, dim: quantity.Length, least: 0.005, most: 2, need: true, doc: "of the motor"},
}}

const columns = "time_s,thrust_n"

// motor reads a motor file: header lines, the line of columns, then rows.
func (r *reader) motor(name string, at harness.Place) (m sim.Motor, ok bool) {
	text, ok := r.read(name, at)
	if !ok {
		return m, false
	}
	before := len(r.problems)
	head := &node{at: harness.Place{File: name, Line: 1, Column: 1}, kind: mapping}
	c := curve{r: r}
	for i, line := range strings.Split(strings.TrimSuffix(string(text), "\n"), "\n") {
		line = strings.TrimSuffix(line, "\r")
		here := harness.Place{File: name, Line: i + 1, Column: 1}
		switch {
		case strings.TrimSpace(line) == "":
		case strings.HasPrefix(line, "#"):
			header(head, line, here)
		case !c.begun:
			c.begun = true
			if strings.ReplaceAll(line, " ", "") != columns {
				r.found(here, quote(line), "the line of columns `"+columns+"`", "header lines begin with #")
			}
		default:
			c.row(line, here)
		}
	}
	t := r.take(head, &motorBlock)
	c.ends(head.at)
	m = sim.Motor{
		Name: t.text("name"), Propellant: t.num("propellant"), Case: t.num("case"),
		Length: t.num("length"), Diameter: t.num("diameter"), Thrust: c.points,
	}
	return m, len(r.problems) == before
}

// header keeps a `# key: value` line; other comments are comments.
func header(head *node, line string, at harness.Place) {
	key, val, ok := strings.Cut(strings.TrimPrefix(line, "#"), ":")
	if key = strings.TrimSpace(key); !ok || strings.Contains(key, " ") {
		return
	}
	text := strings.TrimSpace(val)
	v := &node{at: at, kind: scalar, text: text}
	v.at.Column = strings.Index(line, ":") + 2 + strings.Index(val+" ", text)
	if text == "" {
		v.kind = empty
	}
	at.Column = strings.Index(line, key) + 1
	head.pairs = append(head.pairs, pair{key, at, v})
}

// curve gathers a thrust curve row by row.
type curve struct {
	r      *reader
	begun  bool
	points []sim.ThrustPoint
	last   harness.Place
}

func (c *curve) row(line string, at harness.Place) {
	cells := strings.Split(line, ",")
	if len(cells) != 2 {
		hint := ""
		if strings.ContainsAny(line, ";\t") || len(cells) == 4 {
			hint = "separate with one comma, write decimals with a point"
		}
		c.r.found(at, count(len(cells), "cell"), "two: seconds and newtons", hint)
		return
	}
	var x [2]float64
	for i, cell := range cells {
		here := at
		here.Column = 1 + i*(len(cells[0])+1) + len(cell) - len(strings.TrimLeft(cell, " "))
		v, err := strconv.ParseFloat(strings.TrimSpace(cell), 64)
		switch {
		case err != nil, math.IsNaN(v), math.IsInf(v, 0):
			c.r.found(here, quote(cell), "a finite number", "")
			return
		case v < 0 || v > 1e6:
			c.r.found(here, quote(cell), "at least 0 and at most 1e6", "")
			return
		case i == 0 && len(c.points) > 0 && v <= c.points[len(c.points)-1].T:
			c.r.found(here, quote(cell)+", a time that does not rise", "more than "+strconv.FormatFloat(c.points[len(c.points)-1].T, 'g', -1, 64), "")
			return
		}
		x[i] = v
	}
	c.points = append(c.points, sim.ThrustPoint{T: x[0], Thrust: x[1]})
	c.last = at
}

// ends checks the curve as a whole.
func (c *curve) ends(head harness.Place) {
	var impulse float64
	for i := 1; i < len(c.points); i++ {
		a, b := c.points[i-1], c.points[i]
		impulse += (b.T - a.T) * (a.Thrust + b.Thrust) / 2
	}
	switch {
	case !c.begun:
		c.r.found(head, "no thrust curve", "the line `"+columns+"` and rows", "")
	case len(c.points) < 2:
		c.r.found(head, count(len(c.points), "good row"), "two rows or more", "")
	case c.points[len(c.points)-1].Thrust != 0:
		c.r.found(c.last, "a last thrust that is not 0", "the motor to have burnt out", "end with a row of thrust 0")
	case impulse <= 0:
		c.r.found(head, "a motor without impulse", "some thrust", "")
	}
}
