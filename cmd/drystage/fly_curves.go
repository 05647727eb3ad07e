package main

import (
	"slices"
	"strings"

	"gonum.org/v1/plot/plotter"

	"drystage/sim"
)

// drawnQuantities are drawn against time, from top to bottom.
var drawnQuantities = []struct {
	label string
	of    sim.Quantity
}{
	{"height, m", sim.Height},
	{"speed, m/s", sim.Speed},
	{"felt acceleration, m/s²", sim.Acceleration},
}

// curves are the drawn quantities of each stage against time since the launch.
type curves struct {
	set  *sim.Setup
	of   [][]plotter.XYs // by quantity, then by stage
	down []bool          // by stage
}

func newCurves(set *sim.Setup) *curves {
	n := len(set.Vehicle.Stages)
	c := &curves{set: set, of: make([][]plotter.XYs, len(drawnQuantities)), down: make([]bool, n)}
	for i := range c.of {
		c.of[i] = make([]plotter.XYs, n)
	}
	return c
}

// add takes an instant; a stage's curve ends with its landing.
func (c *curves) add(now sim.Time, states []sim.State) {
	t := (now - c.set.Launch).Seconds()
	for i := range states {
		if c.down[i] {
			continue
		}
		c.down[i] = states[i].Landed
		for k, q := range drawnQuantities {
			c.of[k][i] = append(c.of[k][i], plotter.XY{X: t, Y: q.of.Of(&states[i])})
		}
	}
}

// clip gives a curve from its start to a time.
func clip(curve plotter.XYs, until float64) plotter.XYs {
	n, _ := slices.BinarySearchFunc(curve, until, func(p plotter.XY, t float64) int {
		if p.X <= t {
			return -1
		}
		return 1
	})
	return curve[:n]
}

// thin keeps of each of n equal spans of time the first, least, greatest and last point: no peak is lost, and
// a long flight stays a small file.
func thin(curve plotter.XYs, n int) plotter.XYs {
	if len(curve) <= 4*n {
		return curve
	}
	span := (curve[len(curve)-1].X - curve[0].X) / float64(n)
	var out plotter.XYs
	for from := 0; from < len(curve); {
		end := curve[from].X + span
		to, low, high := from, from, from
		for ; to < len(curve) && curve[to].X <= end; to++ {
			if curve[to].Y < curve[low].Y {
				low = to
			}
			if curve[to].Y > curve[high].Y {
				high = to
			}
		}
		keep := []int{from, low, high, to - 1}
		slices.Sort(keep)
		for _, k := range slices.Compact(keep) {
			out = append(out, curve[k])
		}
		from = to
	}
	return out
}

// mark is an instant worth a line through the picture.
type mark struct {
	at   float64 // s since the launch
	name string
}

// marksOf picks the events to draw: all but crossings, the launch itself, and what stands for a stage's event at
// the same instant, as apogee does.
func marksOf(set *sim.Setup, events []sim.Event) []mark {
	var out []mark
	for i, e := range events {
		stands := !strings.Contains(e.Name, ".") && slices.ContainsFunc(events, func(x sim.Event) bool {
			return x.At == e.At && strings.HasSuffix(x.Name, "."+e.Name)
		})
		if e.At <= set.Launch || strings.Contains(e.Name, " ") || stands || slices.Contains(events[:i], e) {
			continue
		}
		out = append(out, mark{(e.At - set.Launch).Seconds(), e.Name})
	}
	return out
}

// ascent gives the time at which the last stage is at its apogee, a little more, and 0 when none is.
func ascent(set *sim.Setup, events []sim.Event) float64 {
	last := 0.0
	for i := range set.Vehicle.Stages {
		if t, ok := (sim.Anchor{Event: set.Vehicle.Stages[i].Name + "." + sim.StageApogee}).In(events); ok {
			last = max(last, (t - set.Launch).Seconds())
		}
	}
	return 1.1 * last
}
