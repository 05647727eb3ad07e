package flight

import (
	"math"
	"slices"

	"drystage/sim"
	"drystage/sim/plain"
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
			f.pushOffPad(upper, &u, s)
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

// pushOffPad gives a body on the rail its speed of separation: a force as that of pushApart, against the stage below,
// which the pad holds. The force bears the body's weight too, and moves it from where it is greater.
func (f *Flight) pushOffPad(b *body, m *massProperties, s *sim.Separation) {
	f.addRing(b, &s.Shock)
	axis := b.rail.axis
	if s.Shock.Push <= 0 {
		b.y.setVec(atVelocity, scaled(s.Speed, axis))
		return
	}
	length := max(s.Shock.Push, minPulse)
	weight := float64(b.gravity.at(b.y[2]) * axis.Z)
	whole, begun := s.Speed, 0.0 // m/s, the impulse over the mass; the share of the pulse that the weight holds
	for range 8 {
		sin := min(1, float64(float64(2/math.Pi*weight)*length.Seconds())/whole)
		begun = plain.Atan2(sin, math.Sqrt(1-float64(sin*sin))) / math.Pi
		moves := float64(0.5 * (1 + math.Sqrt(1-float64(sin*sin))))
		whole = (s.Speed + float64(weight*float64(length.Seconds()*(1-begun)))) / moves
	}
	f.addPulseFrom(f.now-sim.Seconds(float64(begun*length.Seconds())), b, b.low, length, scaled(float64(m.mass*whole), axis), r3.Vec{})
}

// stopOnPad stops a body that slides back to its pad, in a pulse as of the ground. Its parts feel the pulse; the state is
// at rest at once.
func (f *Flight) stopOnPad(b *body) {
	var m massProperties
	b.massProperties(0, &m)
	v := b.y.vec(atVelocity)
	_, length := springPulse(m.mass, -dot(v, b.rail.axis), f.setup.Vehicle.Site.Ground.Stiffness)
	b.rest(onPad)
	b.y.setVec(atPosition, r3.Vec{})
	b.end = b.y
	if length > 0 {
		turn := b.y.rotation()
		b.pulses = append(b.pulses, pulse{at: f.now, length: length, stage: b.top, velocity: turn.toBody(scaled(-1, v))})
		f.schedule(action{at: f.now + length, kind: doUpdateForces, stage: b.top})
	}
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
