package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// addBodyRate changes a rate of a body in free flight about one of its axes in one step.
func (f *Flight) addBodyRate(s *sim.Fault) bool {
	b := f.bodyOf(s.Stage)
	if b.mode != free || s.Value == 0 || s.Axis == sim.AllAxes || s.Axis > sim.AxisZ {
		return false
	}
	f.endStepNow(b)
	b.y[atRates+int(s.Axis-sim.AxisX)] += s.Value
	b.emptyStep()
	f.computeStep(b)
	return true
}

// pathTurn is a fault that turns a body and its velocity together about a level axis. The rate rises and falls
// as 1 - cos, so that its beginning and end are smooth. It is added to the body's own motion, and the specific
// force includes the acceleration that turns the velocity.
type pathTurn struct {
	axis     r3.Vec // unit, world axes
	from, to sim.Time
	angle    float64 // rad
}

// startPathTurn begins a path turn away from vertical: in the plane of the body's tilt, or about its own y axis
// when it is vertical.
func (f *Flight) startPathTurn(s *sim.Fault) bool {
	b := f.bodyOf(s.Stage)
	if b.mode != free || s.Value == 0 || s.Duration <= 0 {
		return false
	}
	f.endStepNow(b)
	turn := b.y.rotation()
	nose := turn.toWorld(r3.Vec{X: 1})
	axis := r3.Vec{X: -nose.Y, Y: nose.X} // up x nose
	if dot(axis, axis) < 1e-12 {
		axis = turn.toWorld(r3.Vec{Y: 1})
	}
	axis = scaled(1/math.Sqrt(dot(axis, axis)), axis)
	b.pathTurns = append(b.pathTurns, pathTurn{axis: axis, from: f.now, to: f.now + s.Duration, angle: s.Value})
	f.schedule(action{at: f.now + s.Duration, kind: doUpdateForces, stage: s.Stage})
	f.computeStep(b)
	return true
}

// rate gives the rate (rad/s) and its change (rad/s2) at an instant, world axes.
func (v *pathTurn) rate(since float64) (rate, change r3.Vec) {
	long := (v.to - v.from).Seconds()
	sin, cos := plain.Sincos(float64(2 * math.Pi * (since / long)))
	return scaled(float64(v.angle*(1-cos))/long, v.axis), scaled(float64(2*math.Pi*v.angle*sin)/float64(long*long), v.axis)
}

// addPathTurns adds the path turns to the derivative k of the state y, s seconds after the step's start, and to
// the specific force.
func (b *body) addPathTurns(s float64, y, k *vector) {
	fl := &b.flow
	var rate, change r3.Vec
	for i := range b.pathTurns {
		v := &b.pathTurns[i]
		if b.from < v.from || b.from >= v.to {
			continue
		}
		r, c := v.rate((b.from - v.from).Seconds() + s)
		rate, change = plus(rate, r), plus(change, c)
	}
	across := cross(rate, y.vec(atVelocity))
	k.setVec(atVelocity, plus(k.vec(atVelocity), across))
	fl.force = plus(fl.force, fl.rotation.toBody(across))
	fl.turnRate = fl.rotation.toBody(rate)
	// The derivative, in body axes, of a rate whose axis is fixed in world axes.
	fl.turnAcceleration = plus(fl.rotation.toBody(change), cross(fl.turnRate, y.vec(atRates)))
	w, a, c, d := y.attitudeRates(fl.turnRate.X, fl.turnRate.Y, fl.turnRate.Z)
	k[6], k[7], k[8], k[9] = k[6]+w, k[7]+a, k[8]+c, k[9]+d
}
