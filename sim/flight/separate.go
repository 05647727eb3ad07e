package flight

import (
	"slices"

	"drystage/sim"

	"gonum.org/v1/gonum/spatial/r3"
)

// slide parts stages by drag. On the pad and on the rail nothing slides off; a landed body lies still.
func (f *Flight) slide(stage int) {
	if b := f.bodyOf(stage); b.mode == free {
		f.part(stage)
	}
}

// part lets a stage go of the one above it: one body becomes two, which fly apart along their common
// axis at the stage's separation speed, momentum kept. Each keeps the attitude and rates.
func (f *Flight) part(stage int) {
	b := f.bodyOf(stage)
	if b.top == stage {
		return // long gone
	}
	f.cut(b)
	st := &f.stages[stage]
	whole := *b
	b.low = stage - 1
	b.whole, b.tipping = false, false
	f.form(b)
	f.load(b)
	lower := f.newBody(stage, whole.low)
	lower.mode, lower.left, lower.climbing = whole.mode, whole.left, whole.climbing && !whole.topped
	lower.y = whole.y
	lower.veers = slices.Clone(whole.veers)
	f.load(lower)
	if !f.happened(sim.EventSeparation) {
		f.emit(sim.EventSeparation, f.now)
	}
	f.tell(stage, st.separation)
	f.push(b, lower, st.spec.Separation.Speed)
	b.still()
	lower.still()
	f.plan(b)
	f.plan(lower)
}

// push gives two bodies that were one their places and speeds. On the pad the lower one stands still
// and the upper one is on the rail.
func (f *Flight) push(upper, lower *body, speed float64) {
	if upper.mode == landed {
		return
	}
	var u, l, whole properties
	upper.weigh(0, &u)
	lower.weigh(0, &l)
	whole.mass = u.mass + l.mass
	turn := upper.y.rotation()
	axis := turn.world(r3.Vec{X: 1})
	if upper.mode == onPad {
		if speed > 0 {
			f.leavePad(upper)
			upper.y.setVec(atVelocity, scaled(speed, axis))
		}
		return
	}
	du, dl := speed*(l.mass/whole.mass), -speed*(u.mass/whole.mass)
	if upper.mode == free {
		gap := upper.shape.size + l.cg - u.cg // between the centres of gravity
		upper.y.ahead(&turn, gap*(l.mass/whole.mass))
		lower.y.ahead(&turn, -gap*(u.mass/whole.mass))
	}
	upper.y.setVec(atVelocity, plus(upper.y.vec(atVelocity), scaled(du, axis)))
	lower.y.setVec(atVelocity, plus(lower.y.vec(atVelocity), scaled(dl, axis)))
}

// leavePad is liftoff.
func (f *Flight) leavePad(b *body) {
	if !f.lifted {
		f.beginWatches()
		f.lifted = true
		f.emit(sim.EventLiftoff, f.now)
	}
	b.mode = onRail
}

// happened says if an event is among those so far.
func (f *Flight) happened(name string) bool {
	for i := range f.events {
		if f.events[i].Name == name {
			return true
		}
	}
	return false
}
