package scenario

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// motorTable is the header block of a motor's CSV: lines `# key: value`.
var motorTable = blockOf("a motor's header", "The header block of a motor's CSV file: lines `# key: value` above the thrust curve.", func(m *sim.Motor) []row {
	return []row{
		{key: "name", is: textLine{most: 60}, need: true, doc: "what the motor is called", to: &m.Name},
		{key: "propellant", is: quantityShape{quantity.Mass, 1e-4, 500}, need: true, doc: "mass that burns", to: &m.Propellant},
		{key: "case", is: quantityShape{quantity.Mass, 1e-4, 500}, need: true, doc: "mass that stays: case, closures, nozzle", to: &m.Case},
		{key: "length", is: quantityShape{quantity.Length, 0.01, 5}, need: true, doc: "length of the motor", to: &m.Length},
		{key: "diameter", is: quantityShape{quantity.Length, 0.005, 1}, need: true, doc: "diameter of the motor", to: &m.Diameter},
		{key: "impulse_scatter", is: number{min: 0, max: 0.2}, def: "0", doc: "how total impulse differs from motor to motor: one standard deviation as a share of it", to: &m.ImpulseScatter},
		{key: "burn_scatter", is: number{min: 0, max: 0.2}, def: "0", doc: "the same of the burn time", to: &m.BurnScatter},
		{key: "exit_area", is: quantityShape{quantity.Area, 1e-7, 1}, doc: "of the nozzle: thrust grows by it times the pressure that the air has lost since the test; not given, thrust is the curve's at any height. A nozzle for sea level has about 1 cm2 for each 100 N (common practice, no source)", to: &m.ExitArea},
		{key: "test_pressure", is: dayPressure, doc: "of the air in which the curve was measured; default 1013.25 hPa", to: &m.TestPressure},
	}
})

// curve is a thrust curve that was read.
type curve []sim.ThrustPoint

const curveHeader = "time_s,thrust_n"

// The most points, seconds and newtons of a thrust curve.
const (
	maxPoints = 10000
	maxBurn   = 600
	maxThrust = 1e6
)

// motor reads a motor's CSV file.
func (l *loader) motor(f *file) (m sim.Motor, ok bool) {
	if !f.good {
		return m, false
	}
	if !f.checked {
		f.checked = true
		l.readMotor(f)
	}
	m.Thrust = f.curve
	f.object.fill(&m)
	return m, len(m.Thrust) > 0
}

func (l *loader) readMotor(f *file) {
	defer l.reading(motorTable)()
	lines := strings.Split(f.text, "\n")
	n := 0
	for n < len(lines) && (strings.HasPrefix(lines[n], "#") || strings.TrimSpace(lines[n]) == "") {
		n++
	}
	f.object, _ = motorTable.read(l, l.header(f.name, lines[:n])).(*object)
	at := harness.Place{File: f.name, Line: min(n+1, len(lines)), Column: 1}
	if n >= len(lines) {
		l.report(harness.Problem{Place: at, Found: "no thrust curve", Wanted: "a line `" + curveHeader + "` and rows of time and thrust"})
		return
	}
	if got := strings.ReplaceAll(lines[n], " ", ""); got != curveHeader {
		l.report(harness.Problem{Place: at, Found: quote(lines[n]), Wanted: "`" + curveHeader + "` above the rows", Hint: nearest(got, []string{curveHeader})})
		return
	}
	f.curve = l.readCurve(f.name, lines, n+1)
	l.checkImpulse(f)
	l.checkNozzle(f)
}

// header makes a block of keys out of the lines `# key: value`; comment lines without a colon are
// left alone.
func (l *loader) header(file string, lines []string) *node {
	head := &node{at: harness.Place{File: file, Line: 1, Column: 1}, kind: mapping}
	for i, line := range lines {
		left, right, is := strings.Cut(line, ":")
		key := strings.TrimSpace(strings.TrimPrefix(left, "#"))
		if !is || strings.Contains(key, " ") {
			continue
		}
		column := func(before string) int { return 1 + utf8.RuneCountInString(before) }
		k := &node{at: harness.Place{File: file, Line: i + 1, Column: column(left[:strings.Index(left, key)])}, kind: scalar, text: key}
		if first := head.value(key); first != nil {
			l.report(harness.Problem{Place: k.at, Found: fmt.Sprintf("key %s again", quote(key)), Wanted: "each key once", Hint: fmt.Sprintf("the first is on line %d", first.at.Line)})
			continue
		}
		value := strings.TrimSpace(right)
		v := &node{at: k.at, kind: scalar, text: value}
		if value == "" {
			v.kind = empty
		} else {
			v.at.Column = column(line[:len(left)+1+strings.Index(right, value)])
		}
		head.keys, head.items = append(head.keys, k), append(head.items, v)
	}
	return head
}

// readCurve reads the rows from line index n on.
func (l *loader) readCurve(file string, lines []string, n int) curve {
	var c curve
	good := true
	wrong := func(i, column int, found, want, hint string) {
		good = false
		l.report(harness.Problem{Place: harness.Place{File: file, Line: i + 1, Column: column}, Found: found, Wanted: want, Hint: hint})
	}
	last := n
	for i := n; i < len(lines); i++ {
		line := lines[i]
		if strings.TrimSpace(line) == "" {
			continue
		}
		last = i
		first, second, _ := strings.Cut(line, ",")
		if got := strings.Count(line, ",") + 1; got != 2 {
			wrong(i, 1, quote(line), "two columns, "+curveHeader, "decimals have a point")
			continue
		}
		column := 2 + utf8.RuneCountInString(first)
		t, fine := parseFinite(first)
		if !fine || t < 0 || t > maxBurn {
			wrong(i, 1, quote(first), fmt.Sprintf("a time in seconds from 0 to %d", maxBurn), "")
			continue
		}
		if len(c) > 0 && t <= c[len(c)-1].T {
			wrong(i, 1, fmt.Sprintf("time %s after %v", strings.TrimSpace(first), c[len(c)-1].T), "times that rise from row to row", "sort the rows, one for each time")
			continue
		}
		f, fine := parseFinite(second)
		if !fine || f < 0 || f > maxThrust {
			wrong(i, column, quote(second), fmt.Sprintf("a thrust in newtons from 0 to %d", int(maxThrust)), "")
			f = 0
		}
		c = append(c, sim.ThrustPoint{T: t, Thrust: f})
	}
	switch {
	case !good:
	case len(c) < 2 || len(c) > maxPoints:
		wrong(last, 1, fmt.Sprintf("%d rows", len(c)), fmt.Sprintf("a thrust curve of 2 to %d rows", maxPoints), "")
	case c[len(c)-1].Thrust != 0:
		wrong(last, 2+strings.Index(lines[last], ","), fmt.Sprintf("last thrust %v", c[len(c)-1].Thrust), "0", "end the curve with a row of thrust 0, at burnout")
	case !slices.ContainsFunc(c, func(p sim.ThrustPoint) bool { return p.Thrust > 0 }):
		wrong(last, 1, "a curve without thrust", "a thrust above 0 somewhere", "")
	}
	if !good {
		return nil
	}
	return c
}

func parseFinite(s string) (float64, bool) {
	x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	return x, err == nil && !math.IsNaN(x) && !math.IsInf(x, 0)
}
