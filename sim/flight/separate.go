package flight

import (
	"slices"

	"drystage/sim"
	"drystage/sim/r3"
)

// separateByDrag separates stages by drag, in free flight only.
func (f *Flight) separateByDrag(stage int) {
	if b := f.bodyOf(stage); b.mode == free {
		f.separate(stage)
	}
}

// separate separates a stage from the one above it: one body becomes two. They move apart along their common
// axis, pushed to the stage's separation speed, with the sum of momentum unchanged. Each keeps the attitude and rates.
func (f *Flight) separate(stage int) {
	b := f.bodyOf(stage)
	if b.top == stage {
		return // separated already
	}
	f.endStepNow(b)
	st := &f.stages[stage]
	whole := *b
	b.low = stage - 1
	b.allStages, b.onAftGuide = false, false
	f.setShape(b)
	f.load(b)
	lower := f.newBody(stage, whole.low)
	lower.mode, lower.leftRail, lower.climbing = whole.mode, whole.leftRail, whole.climbing && !whole.pastApogee
	lower.y = whole.y
	lower.pathTurns = slices.Clone(whole.pathTurns)
	lower.contact, lower.friction = whole.contact, whole.friction
	splitPulses(&whole, b, lower, f.now)
	f.load(lower)
	if !f.hasEvent(sim.EventSeparation) {
		f.emit(sim.EventSeparation, f.now)
	}
	f.emitStage(stage, st.separation)
	f.part(b, lower, &st.spec.Separation)
	b.emptyStep()
	lower.emptyStep()
	f.computeStep(b)
	f.computeStep(lower)
}

// part gives two bodies that were one their positions, and pushes them apart. On the pad the lower one stays at rest
// and the upper one is on the rail.
func (f *Flight) part(upper, lower *body, s *sim.Separation) {
	if upper.down() {
		return
	}
	var u, l, whole massProperties
	upper.massProperties(0, &u)
	lower.massProperties(0, &l)
	whole.mass = u.mass + l.mass
	turn := upper.y.rotation()
	if upper.mode == onPad {
		if s.Speed > 0 {
			f.liftOff(upper)
			upper.y.setVec(atVelocity, turn.toWorld(r3.Vec{X: s.Speed}))
		}
		return
	}
	if upper.mode == free {
		gap := upper.shape.size + l.cg - u.cg // between the centres of gravity
		upper.y.moveAlongAxis(&turn, gap*(l.mass/whole.mass))
		lower.y.moveAlongAxis(&turn, -gap*(u.mass/whole.mass))
	}
	f.pushApart(upper, lower, s)
}

// liftOff moves a body from the pad onto the rail.
func (f *Flight) liftOff(b *body) {
	if !f.liftedOff {
		f.startThresholds()
		f.liftedOff = true
		f.emit(sim.EventLiftoff, f.now)
	}
	b.mode = onRail
}

// hasEvent says that an event has happened.
func (f *Flight) hasEvent(name string) bool {
	for i := range f.events {
		if f.events[i].Name == name {
			return true
		}
	}
	return false
}
