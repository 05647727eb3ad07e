package flight

import "drystage/sim"

// watch is a crossing of the Setup that hasn't happened yet.
type watch struct {
	spec        *sim.Crossing
	begun, done bool
	last, value float64 // of the quantity: before, and at the place looked at
}

// begin takes the value on the pad, at liftoff.
func (w *watch) begin(f *Flight) {
	f.freshen()
	w.begun = true
	w.last = w.spec.Quantity.Of(&f.states[w.spec.Stage])
	w.value = w.last
}

// idle says that a watch has nothing to do with a body now.
func (w *watch) idle(b *body) bool {
	return w.done || !w.begun || w.spec.Stage < b.top || w.spec.Stage > b.low
}

// beyond is positive when a value lies beyond the one watched for.
func (w *watch) beyond(value float64) float64 {
	if w.spec.Falling {
		return w.spec.Value - value
	}
	return value - w.spec.Value
}

func (w *watch) passed() bool { return w.beyond(w.last) <= 0 && w.beyond(w.value) > 0 }

// measure takes a quantity of a body at a share of its step.
func (f *Flight) measure(b *body, q sim.Quantity, x float64) float64 {
	if b.mode == onRail || b.mode == free {
		switch q {
		case sim.Height:
			return b.mixOne(x, 2)
		case sim.Climb:
			return b.mixOne(x, 5)
		case sim.Descent:
			return -b.mixOne(x, 5)
		}
	}
	b.fillShare(x, &f.probe)
	return q.Of(&f.probe)
}
