package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"
)

// A body that comes down is stopped by the ground in a pulse, as by a spring that gives nothing back, falls over about
// the end that has touched, and lies on its side. Wind in an open canopy may drag it along. Heights stay those of the
// centre of gravity above its place on the pad; what it sinks while it falls over is left out. Common practice, no
// source, where nothing else is said.

// groundContact is how a body touches the ground.
type groundContact struct {
	arm   float64 // m, from the end that touches to the centre of gravity, positive if that is the rear end
	lying bool
}

const (
	slowSlip      = 0.02 // m/s: friction is full well above this speed
	restSpeed     = 0.04 // m/s, below which friction holds the body
	rollFriction  = 10.0 // 1/s, of the roll of a body that touches
	leastLean     = 0.02 // sine of the lean below which a body falls over to its y axis' side
	leastFall     = 0.1  // rad/s, then
	flatTouch     = 0.17 // sine of the axis' elevation below which the whole side touches at once
	canopyHeight  = 2.0  // m, where the wind is that a canopy on the ground catches
	canopyCatches = 0.5  // share of its drag area
)

// touchDown begins a landing, at the instant of the touch.
func (f *Flight) touchDown(b *body) {
	ground := &f.setup.Vehicle.Site.Ground
	b.y[2], b.end[2] = 0, 0
	b.dropPulses(f.now, anyPulse)
	if ground.Stiffness <= 0 {
		b.rest(landed)
		return
	}
	b.mode, b.friction = onGround, ground.Friction
	var m massProperties
	b.massProperties(0, &m)
	v := b.y.vec(atVelocity)
	_, length := springPulse(m.mass, -v.Z, ground.Stiffness)
	stop := r3.Vec{Z: -v.Z}
	if along := math.Sqrt(float64(v.X*v.X) + float64(v.Y*v.Y)); along > 0 { // friction below the pulse
		share := min(1, ground.Friction*stop.Z/along)
		stop.X, stop.Y = -float64(share*v.X), -float64(share*v.Y)
	}
	turn := b.y.rotation()
	b.contact = groundContact{arm: b.shape.size - m.cg}
	if turn.zx < 0 {
		b.contact.arm = -m.cg
	}
	twist := b.pivotTwist(&m, &turn, v.Z)
	if math.Abs(turn.zx) < flatTouch {
		b.contact.lying, twist = true, b.stopTurning(&m)
	}
	f.addPulse(b, b.top, length, scaled(m.mass, stop), twist)
}

// pivotTwist is the impulse of the ground's moment about the centre of gravity in N m s, when the end that touches
// stops: the angular momentum about that end stays (a textbook result for a rod that is caught at one end).
func (b *body) pivotTwist(m *massProperties, turn *rotation, climb float64) r3.Vec {
	d := b.contact.arm
	rates := b.y.vec(atRates)
	about := m.transverse + float64(m.mass*float64(d*d))
	fall := float64(m.mass * float64(d*climb)) // times x cross up = (0, -zz, zy)
	q := (float64(m.transverse*rates.Y) - float64(fall*turn.zz)) / about
	r := (float64(m.transverse*rates.Z) + float64(fall*turn.zy)) / about
	if turn.zy*turn.zy+turn.zz*turn.zz < leastLean*leastLean {
		q += leastFall
	}
	return r3.Vec{Y: float64(m.transverse * (q - rates.Y)), Z: float64(m.transverse * (r - rates.Z))}
}

// lieDown stops the fall over when the body's side meets the ground.
func (f *Flight) lieDown(b *body) {
	b.contact.lying = true
	var m massProperties
	b.massProperties(0, &m)
	_, length := springPulse(m.transverse/square(b.shape.size-m.cg), 1, f.setup.Vehicle.Site.Ground.Stiffness)
	f.addPulse(b, b.top, length, r3.Vec{}, b.stopTurning(&m))
}

// stopTurning is the impulse of a moment in N m s that stops a body's rotation.
func (b *body) stopTurning(m *massProperties) r3.Vec {
	w := b.y.vec(atRates)
	return r3.Vec{X: -float64(m.axial * w.X), Y: -float64(m.transverse * w.Y), Z: -float64(m.transverse * w.Z)}
}

// groundDerivative is derivative for a body that touches the ground and still moves. It falls over about the end that
// touches, as a rigid body on a hinge: (I + m d^2) times the angular acceleration is m g d times the lean.
func (b *body) groundDerivative(s float64, y, k *vector) {
	fl := &b.flow
	if len(b.burns) > 0 {
		b.massProperties(s, &fl.massProperties)
	}
	y.rotate(&fl.rotation)
	b.airData(y, fl)
	fl.softening = 1
	fl.pulseForce, fl.pulseAngular = r3.Vec{}, r3.Vec{}
	if len(b.pulses) > 0 {
		b.applyPulses(s)
	}
	g := b.gravity.at(y[2])
	a := plus(fl.rotation.toWorld(fl.pulseForce), b.canopyPull(s, y))
	if len(b.pulses) == 0 { // they have their own friction
		brake := float64(b.friction*g) / math.Sqrt(float64(y[3]*y[3])+float64(y[4]*y[4])+slowSlip*slowSlip)
		a.X -= float64(brake * y[3])
		a.Y -= float64(brake * y[4])
	}
	fl.force = fl.rotation.toBody(r3.Vec{X: a.X, Y: a.Y, Z: a.Z + g})
	k[0], k[1], k[2] = y[3], y[4], y[5]
	k.setVec(atVelocity, a)
	p, q, r := y[10], y[11], y[12]
	k[6], k[7], k[8], k[9] = y.attitudeRates(p, q, r)
	k[10], k[11], k[12] = -float64(rollFriction*p), 0, 0
	if d := b.contact.arm; b.contact.lying {
		k[11], k[12] = -float64(rollFriction*q), -float64(rollFriction*r)
	} else {
		fall := float64(fl.mass*float64(d*g)) / (fl.transverse + float64(fl.mass*float64(d*d)))
		k[11], k[12] = float64(fall*fl.rotation.zz), -float64(fall*fl.rotation.zy)
	}
	k.setVec(atRates, plus(k.vec(atRates), fl.pulseAngular))
}

// canopyPull is the acceleration that wind in open canopies gives a body on the ground, in m/s2, world axes.
func (b *body) canopyPull(s float64, y *vector) r3.Vec {
	area := 0.0
	for i := range b.canopies {
		area += b.canopies[i].at(s)
	}
	if area <= 0 {
		return r3.Vec{}
	}
	east, north, _ := b.wind.at(canopyHeight)
	x, z := east-y[3], north-y[4]
	pull := float64(float64(0.5*canopyCatches*b.flow.density*area) * math.Sqrt(float64(x*x)+float64(z*z)) * b.flow.perMass)
	return r3.Vec{X: float64(pull * x), Y: float64(pull * z)}
}

// comesToRest says that a body that touches the ground stays where it is from now on.
func (b *body) comesToRest(now sim.Time) bool {
	if b.mode != onGround || !b.contact.lying || float64(b.y[3]*b.y[3])+float64(b.y[4]*b.y[4]) > restSpeed*restSpeed {
		return false
	}
	for i := range b.pulses {
		if b.pulses[i].at+b.pulses[i].length > now {
			return false
		}
	}
	still := b.y
	still.setVec(atVelocity, r3.Vec{})
	pull := b.canopyPull(0, &still)
	return math.Sqrt(dot(pull, pull)) <= b.friction*b.gravity.at(b.y[2])
}

// down says that a body has come to the ground.
func (b *body) down() bool { return b.mode == landed || b.mode == onGround }

// sideOff is below zero until the side of a body that falls over meets the ground, at a fraction of its step. It is the
// sine of the elevation of its axis, up to a factor.
func (b *body) sideOff(x float64) float64 {
	off := float64(b.interpolateOne(x, 6)*b.interpolateOne(x, 8)) - float64(b.interpolateOne(x, 7)*b.interpolateOne(x, 9))
	if b.contact.arm < 0 {
		return -off
	}
	return off
}
