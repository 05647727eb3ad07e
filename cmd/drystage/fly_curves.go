package main

import (
	"drystage/harness/show/chart"
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
	of   [][]chart.Line // by quantity, then by stage
	down []bool         // by stage
}

func newCurves(set *sim.Setup) *curves {
	n := len(set.Vehicle.Stages)
	c := &curves{set: set, of: make([][]chart.Line, len(drawnQuantities)), down: make([]bool, n)}
	for i := range c.of {
		c.of[i] = make([]chart.Line, n)
	}
	return c
}

// add adds one time; a stage's curve ends at its landing.
func (c *curves) add(now sim.Time, states []sim.State) {
	t := (now - c.set.Launch).Seconds()
	for i := range states {
		if c.down[i] {
			continue
		}
		c.down[i] = states[i].Landed
		for k, q := range drawnQuantities {
			c.of[k][i].Add(t, q.of.Of(&states[i]))
		}
	}
}
