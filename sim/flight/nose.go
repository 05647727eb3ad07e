package flight

import (
	"math"
	"slices"

	"drystage/sim"
)

// shockTime is how long the parting of a nose is felt, as half a sine wave. Common practice, no source.
const shockTime = 10 * sim.Millisecond

// lose lets the nose or payload of the top stage fly off: its mass, taken from the middle of the nose, is
// gone with the momentum that it takes along, and the body has a flat front. What is lost isn't
// followed.
func (f *Flight) lose(s *sim.Fault) bool {
	b := f.bodyOf(s.Stage)
	st := &f.stages[s.Stage]
	mass := min(s.Value, 0.9*st.dry.mass)
	if b.mode != free || b.top != s.Stage || !(mass > 0) {
		return false
	}
	f.cut(b)
	var p properties
	b.weigh(0, &p)
	before := p.cg
	st.dry.add(-mass, st.spec.Nose.Length/2, sim.Inertia{})
	st.shock, st.shocked = pull{}, f.now
	if left := p.mass - mass; s.Speed > 0 && left > 0 {
		push := s.Speed * mass * left / p.mass // N s
		st.shock = pull{peak: -push * math.Pi / (2 * shockTime.Seconds()), length: shockTime}
	}
	f.blunt(s.Stage)
	f.load(b)
	b.weigh(0, &p)
	turn := b.y.rotation()
	b.y.ahead(&turn, before-p.cg)
	b.still()
	f.plan(b)
	f.enter(appointment{at: f.now + shockTime, what: filling, stage: s.Stage})
	return true
}

// blunt gives all bodies with a stage at their top the shape and the drag that they have without its nose.
func (f *Flight) blunt(top int) {
	stages := slices.Clone(f.setup.Vehicle.Stages)
	st := &stages[top]
	front := disc(noseBase(st))
	if st.Nose.Length <= 0 {
		front = 0 // blunt before
	}
	st.Nose = sim.Nose{}
	st.Drag = flattened(st.Drag, front/disc(largest(st)))
	wide := largest(st)
	for low := top; low < len(stages); low++ {
		wide = max(wide, largest(&stages[low]))
		if d := &stages[low].Stacked; low > top && (d.Cd != 0 || len(d.Points) > 0) {
			*d = flattened(*d, front/disc(wide))
		}
		f.shapes[top][low] = newShape(stages, top, low)
	}
}

// flattened adds the drag of a flat front to coefficients; share is its area over theirs.
func flattened(d sim.Drag, share float64) sim.Drag {
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
