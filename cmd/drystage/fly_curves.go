package main

import (
	"math"

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
	// By stage: its way over the ground, m east and north of the pad, from when it flies by itself.
	track [][][2]float64
}

func newCurves(set *sim.Setup) *curves {
	n := len(set.Vehicle.Stages)
	c := &curves{set: set, of: make([][]chart.Line, len(drawnQuantities)), down: make([]bool, n), track: make([][][2]float64, n)}
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
		c.addPlace(i, states)
	}
}

// addPlace adds a stage's place, if it has moved so far that a map shows it.
func (c *curves) addPlace(i int, states []sim.State) {
	p := [2]float64{states[i].Position.X, states[i].Position.Y}
	if i > 0 && states[i].Position == states[i-1].Position && states[i].Velocity == states[i-1].Velocity {
		c.track[i] = c.track[i][:0]
	}
	if n := len(c.track[i]); n == 0 || math.Hypot(p[0]-c.track[i][n-1][0], p[1]-c.track[i][n-1][1]) > 1 || c.down[i] {
		c.track[i] = append(c.track[i], p)
	}
}
