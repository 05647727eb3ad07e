package page

import (
	"math"

	"drystage/harness"
	"drystage/harness/show/chart"
	"drystage/sim"
)

// body is the true flight of what one stage belongs to, from the instant at which it flies by itself.
type body struct {
	Name          string
	height, speed chart.Line
}

// How finely curves are kept: to a share of their range, in at most so many points.
const (
	fineTolerance   = 1.0 / 600 // a quarter of a point of the pictures
	plainTolerance  = 1.0 / 150 // of a pass among many: a point of the pictures
	coarseTolerance = 1.0 / 90
	maxPoints       = 400
)

// bodies gives the curves of all stages. The curves of a lower stage begin where it has separated from the one above.
func bodies(rec *harness.Record) []body {
	stages := rec.Plan.Setup.Vehicle.Stages
	list := make([]body, len(stages))
	for i := range list {
		b := &list[i]
		b.Name = stages[i].Name
		b.height, b.speed = chart.Line{Class: class(i)}, chart.Line{Class: class(i)}
		for tick := range rec.Times {
			st := rec.State(tick, i)
			if i > 0 && joined(rec, tick, i) {
				b.height.T, b.height.X, b.speed.T, b.speed.X = b.height.T[:0], b.height.X[:0], b.speed.T[:0], b.speed.X[:0]
			}
			t := rec.Times[tick].Seconds()
			b.height.Add(t, st.Height())
			b.speed.Add(t, sim.Speed.Of(st))
			if st.Landed {
				break
			}
		}
		b.height, b.speed = simplify(b.height, maxPoints), simplify(b.speed, maxPoints)
	}
	return list
}

// joined says that a stage and the one above it fly as one.
func joined(rec *harness.Record, tick, stage int) bool {
	a, b := rec.State(tick, stage-1), rec.State(tick, stage)
	return a.Position == b.Position && a.Velocity == b.Velocity && !a.Landed
}

// simplify keeps what a picture can show of a curve, as finely as some points let it; where even a share of its range
// that is seen would take more, it keeps the extremes.
func simplify(l chart.Line, points int) chart.Line {
	low, high, ok := l.Range()
	if !ok || math.IsInf(high-low, 0) {
		return l.Thin(points / 4)
	}
	for off := (high - low) * fineTolerance; off <= (high-low)*coarseTolerance; off *= 2 {
		if out := l.Straighten(off); out.Len() <= points {
			return out
		}
	}
	return l.Thin(points / 4)
}

// class tells the curves of stages apart: by colour and by dashes.
func class(stage int) string { return [...]string{"one", "two", "three", "four"}[stage%4] }
