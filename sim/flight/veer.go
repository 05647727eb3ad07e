package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"

	"gonum.org/v1/gonum/spatial/r3"
)

// kick gives the body of a stage in free flight a rate about one of its axes, at once.
func (f *Flight) kick(s *sim.Fault) bool {
	b := f.bodyOf(s.Stage)
	if b.mode != free || s.Value == 0 || s.Axis == sim.AllAxes || s.Axis > sim.AxisZ {
		return false
	}
	f.cut(b)
	b.y[atRates+int(s.Axis-sim.AxisX)] += s.Value
	b.still()
	f.plan(b)
	return true
}

// veer is a turn of a body and its path together about a level axis, as a fault makes it: the rate rises
// and falls as 1 - cos, so that its beginning and end are smooth. It comes on top of what the body does
// by itself, and what turns the path is felt as a force across it.
type veer struct {
	axis     r3.Vec // unit, world axes
	from, to sim.Time
	angle    float64 // rad
}

// turn begins a veer away from vertical: in the plane in which the body leans, or about its own y axis
// when it stands upright.
func (f *Flight) turn(s *sim.Fault) bool {
	b := f.bodyOf(s.Stage)
	if b.mode != free || s.Value == 0 || s.Duration <= 0 {
		return false
	}
	f.cut(b)
	turn := b.y.rotation()
	nose := turn.world(r3.Vec{X: 1})
	axis := r3.Vec{X: -nose.Y, Y: nose.X} // up x nose
	if dot(axis, axis) < 1e-12 {
		axis = turn.world(r3.Vec{Y: 1})
	}
	axis = scaled(1/math.Sqrt(dot(axis, axis)), axis)
	b.veers = append(b.veers, veer{axis: axis, from: f.now, to: f.now + s.Duration, angle: s.Value})
	f.enter(appointment{at: f.now + s.Duration, what: filling, stage: s.Stage})
	f.plan(b)
	return true
}

// rate gives the rate (rad/s) and its change (rad/s2) at an instant, world axes.
func (v *veer) rate(since float64) (rate, change r3.Vec) {
	long := (v.to - v.from).Seconds()
	sin, cos := plain.Sincos(float64(2 * math.Pi * (since / long)))
	return scaled(float64(v.angle*(1-cos))/long, v.axis), scaled(float64(2*math.Pi*v.angle*sin)/float64(long*long), v.axis)
}

// stray adds the veers to the rates of change k of the state y, s seconds after the step's start, and to
// what the body feels.
func (b *body) stray(s float64, y, k *vector) {
	fl := &b.flow
	var rate, change r3.Vec
	for i := range b.veers {
		v := &b.veers[i]
		if b.from < v.from || b.from >= v.to {
			continue
		}
		r, c := v.rate((b.from - v.from).Seconds() + s)
		rate, change = plus(rate, r), plus(change, c)
	}
	across := cross(rate, y.vec(atVelocity))
	k.setVec(atVelocity, plus(k.vec(atVelocity), across))
	fl.force = plus(fl.force, fl.turn.body(across))
	fl.strayed = fl.turn.body(rate)
	// Of a rate that is fixed in the world, seen from a body that turns.
	fl.straying = plus(fl.turn.body(change), cross(fl.strayed, y.vec(atRates)))
	w, a, c, d := y.turning(fl.strayed.X, fl.strayed.Y, fl.strayed.Z)
	k[6], k[7], k[8], k[9] = k[6]+w, k[7]+a, k[8]+c, k[9]+d
}
