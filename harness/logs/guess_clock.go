package logs

import (
	"fmt"
	"math"
)

// clock proposes how rows tell their time, and gives the column of it, or -1. Of several clocks the one that
// parts most rows counts.
func (g *glance) clock() int {
	best, most, told := -1, 0, ""
	var others, back []int
	for i := range g.width {
		unit, named := clockLike(g.names[i], g.units[i])
		if !named {
			continue
		}
		if x := seen(g.data[i]); len(x) < 2 || !rising(x) {
			back = append(back, i)
			continue
		}
		others = append(others, i)
		if n := distinct(seen(g.data[i])); n > most {
			best, most, told = i, n, unit
		}
	}
	for _, i := range back {
		if best >= 0 && len(newTitle(g.names[i], "").words) == 1 && len(g.names[i]) == 1 { // a T beside a clock is a temperature
			g.named[i] = true
			g.leave(i, "its name of one letter is a clock's, but it goes back, and %s counts", g.label(best))
			continue
		}
		g.falling(i)
	}
	if best < 0 {
		return -1
	}
	for _, i := range others {
		if i != best {
			g.named[i] = true
			g.leave(i, "another clock; %s parts more rows", g.label(best))
		}
	}
	c := &g.p.Mapping.Time
	c.Column = g.label(best)
	c.Unit = g.clockUnit(best, told)
	if c.Unit == "ticks" {
		g.doubt("time: %s counts ticks; how many a second? Give rate, as in rate: 200 Hz", c.Column)
	}
	return best
}

// falling asks about a column that is called as a clock is, and does not go up.
func (g *glance) falling(i int) {
	first := len(g.rows) - len(g.data[i])
	for k := 1; k < len(g.data[i]); k++ {
		if a, b := g.data[i][k-1], g.data[i][k]; b < a {
			g.doubt("time: column %s is called as a clock is, but goes back in many rows, at first from %.10g to %.10g in line %d: are the rows in order of time?", g.label(i), a, b, g.at[first+k])
			return
		}
	}
	g.doubt("time: column %s is called as a clock is, but holds %d numbers", g.label(i), len(seen(g.data[i])))
}

// rising says that numbers go up, but for a few that may be damaged, or one new beginning.
func rising(x []float64) bool {
	up := 0
	for i := 1; i < len(x); i++ {
		if x[i] >= x[i-1] {
			up++
		}
	}
	return up*10 >= 9*(len(x)-1)
}

func distinct(x []float64) int {
	n := 1
	for i := 1; i < len(x); i++ {
		if x[i] != x[i-1] {
			n++
		}
	}
	return n
}

// clockUnit finds out a clock's unit: as told, as written in hours and minutes, or by the rows' steps.
func (g *glance) clockUnit(i int, told string) string {
	if cells := split(g.rows[len(g.rows)/2], g.delim, nil); i < len(cells) {
		if _, ok := number(cells[i].text, g.comma); !ok {
			if _, ok := timeOfDay(cells[i].text, g.comma); ok {
				return "clock"
			}
		}
	}
	x := seen(g.data[i])
	whole := true
	var up []float64
	for _, d := range steps(x) {
		if d > 0 {
			up = append(up, d)
		}
	}
	for _, v := range x {
		whole = whole && v == math.Trunc(v)
	}
	if told != "" {
		g.plausible(told, up)
		return told
	}
	if len(up) == 0 {
		return "s"
	}
	step := middle(up)
	tell := func(u, per string) string {
		g.p.Because["time"] = fmt.Sprintf("rows are %g apart: %s", step, per)
		return u
	}
	length := g.length(i)
	switch {
	case !whole && step < 2:
		return tell("s", "seconds with decimals")
	case whole && step > 5000:
		return tell("us", "whole microseconds")
	case whole && step >= 2 && step <= 100, !whole:
		return tell("ms", "milliseconds")
	case whole && step > 100 && length > 7.2e6: // two hours of ms
		return tell("us", fmt.Sprintf("whole microseconds, since %.3g of ms would be hours", length))
	case whole && step > 100 && length < 5e6: // 5 s of us
		return tell("ms", fmt.Sprintf("whole milliseconds, since %.3g of us would be less than a flight", length))
	}
	g.doubt("time: rows are %g apart; are these s, ms, us, or ticks (then give rate)?", step)
	return "ms"
}

// plausible asks when rows of the unit that is told would come faster or slower than any log's.
func (g *glance) plausible(unit string, up []float64) {
	c := Clock{Unit: unit}
	t := newTicker(&c)
	if len(up) == 0 || unit == "ticks" {
		return
	}
	if step := middle(up) * t.factor; step < 5e-5 || step > 30 {
		g.doubt("time: rows would be %.3g s apart; is the unit %s?", step, unit)
	}
}

// length is from the first to the last number of a column that was seen.
func (g *glance) length(i int) float64 {
	x, far := seen(g.data[i]), seen(g.far[i])
	if len(far) > 0 {
		return far[len(far)-1] - x[0]
	}
	return x[len(x)-1] - x[0]
}
