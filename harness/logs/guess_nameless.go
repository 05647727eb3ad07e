package logs

import (
	"fmt"
	"math"

	"drystage/sim/quantity"
)

// nameless proposes a mapping of a table without names, by its numbers alone. All of it is to be checked.
func (g *glance) nameless() {
	g.taken = map[string]string{}
	g.doubt("the table has no names of columns; what stands here was guessed from the numbers, so check every line")
	at := g.steady()
	if at < 0 {
		g.doubt("no column looks like a clock; give time: {column: \"#1\", unit: s}, or time: {rate: 200 Hz} when rows come at a steady rate")
	} else {
		g.named[at] = true
		g.p.Mapping.Time = Clock{Column: g.label(at)}
		g.p.Mapping.Time.Unit = g.clockUnit(at, "")
	}
	for i := range g.width {
		if g.named[i] {
			continue
		}
		for _, s := range spans[quantity.Pressure] {
			if x := g.onPad(i); len(x) > 0 && g.inside(i, s) && g.falls(i) {
				g.guess(i, "barometer pressure", s.unit, fmt.Sprintf("%g is the air's pressure in %s", middle(x), s.unit))
				break
			}
		}
	}
	g.three()
	for i := range g.width {
		if !g.named[i] && len(seen(g.data[i]))+len(g.words[i]) > 0 {
			g.leave(i, "it has no name, and what it holds may mean many things")
		}
	}
	g.rates()
}

func (g *glance) guess(i int, is, unit, why string) {
	if g.taken[is] != "" {
		return
	}
	g.named[i] = true
	g.put(i, Column{Is: is, Unit: unit})
	g.p.Because[g.label(i)] = why
}

// steady gives the first column that goes up by much the same from row to row; -1: none.
func (g *glance) steady() int {
	for i := range g.width {
		d := steps(g.data[i])
		m, same := middle(d), 0
		for _, x := range d {
			if math.Abs(x-m) <= 0.5*m {
				same++
			}
		}
		if len(d) > 2 && m > 0 && same*10 >= 9*len(d) && g.gaps[i] < 0.1 && m != 1 {
			return i
		}
	}
	return -1
}

// inside says that a column lies in a span on the pad.
func (g *glance) inside(i int, s span) bool {
	m := middle(g.onPad(i))
	return m > s.low && m < s.high
}

const fallsHead = 10 // samples that are on the pad, even in a log of ten a second that begins a second before liftoff

// falls says that a column changes little on the pad, and falls but never rises by more than a tenth of it.
func (g *glance) falls(i int) bool {
	x := append(seen(g.data[i]), seen(g.far[i])...)
	head := x[:min(len(x), fallsHead)]
	m := middle(head)
	for _, v := range head {
		if math.Abs(v-m) > 0.01*m {
			return false
		}
	}
	low, high := m, m
	for _, v := range x {
		low, high = min(low, v), max(high, v)
	}
	return high < 1.1*m && low < 0.999*m && low > 0.15*m
}

// three finds three columns in a row, or a single one, that read one g together on the pad and more later: an
// accelerometer.
func (g *glance) three() {
	for _, n := range []int{3, 1} {
		for i := 0; i+n <= g.width; i++ {
			if g.taken["accelerometer x"] != "" {
				return
			}
			sum, most, free := 0.0, 0.0, true
			for k := i; k < i+n; k++ {
				x := seen(g.data[k])
				free = free && !g.named[k] && len(x) > 0 && distinct(x) > len(x)/10
				if free {
					m := middle(g.onPad(k))
					sum += m * m
					for _, v := range append(x, seen(g.far[k])...) {
						most = max(most, math.Abs(v))
					}
				}
			}
			for _, c := range []span{{unit: "m/s2", low: 9.81}, {unit: "g0", low: 1}, {unit: "mg0", low: 1000}, {unit: "ft/s2", low: 32.17}} {
				if r := math.Sqrt(sum) / c.low; free && r > 0.9 && r < 1.1 && most > 2.5*c.low {
					for k := i; k < i+n; k++ {
						g.guess(k, "accelerometer "+string("xyz"[k-i]), c.unit, fmt.Sprintf("%.3g at the beginning is one g in %s", math.Sqrt(sum), c.unit))
					}
					break
				}
			}
		}
	}
}
