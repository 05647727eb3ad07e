package flight

import "drystage/sim"

// threshold is a crossing of the Setup that hasn't happened yet.
type threshold struct {
	spec          *sim.Crossing
	started, done bool
	beyondNow     bool // the quantity is beyond the value at the last final instant
	beyondNext    bool // the same at the last searched point of the current step
}

// startThresholds starts all thresholds from the values on the pad, just before liftoff.
func (f *Flight) startThresholds() {
	for i := range f.thresholds {
		w := &f.thresholds[i]
		w.started = true
		f.bodyOf(w.spec.Stage).fillState(0, &f.scratch)
		w.beyondNow = w.excess(w.spec.Quantity.Of(&f.scratch)) > 0
	}
}

// updateThresholds sets beyondNow from the state at an instant of a body's step.
func (f *Flight) updateThresholds(b *body, t sim.Time) {
	for i := range f.thresholds {
		if w := &f.thresholds[i]; !w.ignores(b) {
			w.beyondNow = w.excess(f.quantityAt(b, w.spec.Quantity, b.fraction(t))) > 0
		}
	}
}

// ignores says that a threshold doesn't apply to a body now.
func (w *threshold) ignores(b *body) bool {
	return w.done || !w.started || w.spec.Stage < b.top || w.spec.Stage > b.low
}

// excess is positive when a value is beyond that of the threshold.
func (w *threshold) excess(value float64) float64 {
	if w.spec.Falling {
		return w.spec.Value - value
	}
	return value - w.spec.Value
}

// quantityAt gives a quantity of a body at a fraction of its step.
func (f *Flight) quantityAt(b *body, q sim.Quantity, x float64) float64 {
	if b.mode == onRail || b.mode == free {
		switch q {
		case sim.Height:
			return b.interpolateOne(x, 2)
		case sim.Climb:
			return b.interpolateOne(x, 5)
		case sim.Descent:
			return -b.interpolateOne(x, 5)
		}
	}
	b.fillState(x, &f.scratch)
	return q.Of(&f.scratch)
}
