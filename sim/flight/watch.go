package flight

import "drystage/sim"

// watch is a crossing of the Setup that hasn't happened yet.
type watch struct {
	spec        *sim.Crossing
	begun, done bool
	side        bool // the quantity is beyond the value, at the last instant that is certain
	ahead       bool // the same at the last place looked at in the running step
}

// beginWatches takes the values on the pad, just before liftoff.
func (f *Flight) beginWatches() {
	for i := range f.watches {
		w := &f.watches[i]
		w.begun = true
		f.bodyOf(w.spec.Stage).fillShare(0, &f.probe)
		w.side = w.beyond(w.spec.Quantity.Of(&f.probe)) > 0
	}
}

// takeSides makes the values at an instant of a body's step certain.
func (f *Flight) takeSides(b *body, t sim.Time) {
	for i := range f.watches {
		if w := &f.watches[i]; !w.idle(b) {
			w.side = w.beyond(f.measure(b, w.spec.Quantity, b.share(t))) > 0
		}
	}
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
