package flight

import (
	"slices"

	"drystage/sim"
	"drystage/sim/r3"
)

// shockTime is the length of the force pulse, half a sine wave, when a nose separates. Common practice, no
// source.
const shockTime = 10 * sim.Millisecond

// loseNose removes the nose or payload of the top stage. The body loses its mass, taken from the middle of the
// nose, and its momentum, and has a flat front from then on. The lost part isn't simulated.
func (f *Flight) loseNose(s *sim.Fault) bool {
	b := f.bodyOf(s.Stage)
	st := &f.stages[s.Stage]
	mass := min(s.Value, 0.9*st.dry.mass)
	if b.mode != free || b.top != s.Stage || !(mass > 0) {
		return false
	}
	f.endStepNow(b)
	var p massProperties
	b.massProperties(0, &p)
	before := p.cg
	st.dry.add(-mass, st.spec.Nose.Length/2, sim.Inertia{})
	push := s.Speed * mass * (p.mass - mass) / p.mass // N s
	f.useFlatFront(s.Stage)
	f.load(b)
	b.massProperties(0, &p)
	turn := b.y.rotation()
	b.y.moveAlongAxis(&turn, before-p.cg)
	f.addPulse(b, s.Stage, shockTime, turn.toWorld(r3.Vec{X: -max(0, push)}), r3.Vec{})
	b.emptyStep()
	f.computeStep(b)
	return true
}

// useFlatFront gives all bodies with a stage at their top the shape and the drag that they have without its nose.
func (f *Flight) useFlatFront(top int) {
	stages := slices.Clone(f.setup.Vehicle.Stages)
	st := &stages[top]
	front := circleArea(noseBase(st))
	if st.Nose.Length <= 0 {
		front = 0 // it was flat already
	}
	st.Nose = sim.Nose{}
	st.Drag = withFlatFront(st.Drag, front/circleArea(maxDiameter(st)))
	wide := maxDiameter(st)
	for low := top; low < len(stages); low++ {
		wide = max(wide, maxDiameter(&stages[low]))
		if d := &stages[low].Stacked; low > top && (d.Cd != 0 || len(d.Points) > 0) {
			*d = withFlatFront(*d, front/circleArea(wide))
		}
		f.shapes[top][low] = newShape(stages, top, low)
	}
}

// withFlatFront adds the drag of a flat front to coefficients; share is its area over theirs.
func withFlatFront(d sim.Drag, share float64) sim.Drag {
	d.Cd += float64(flatFace * share)
	d.Points = slices.Clone(d.Points)
	for i := range d.Points {
		p := &d.Points[i]
		more := float64(flatFace * impactRatio(p.Mach) * share)
		p.Cd += more
		if p.PowerOn != 0 {
			p.PowerOn += more
		}
	}
	return d
}
