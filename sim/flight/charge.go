package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"
)

// pushApart gives two bodies that were one their relative speed: a force on both, equal and opposite, along their
// common axis. An offset of the force from the axis turns them against each other.
func (f *Flight) pushApart(upper, lower *body, s *sim.Separation) {
	f.addRing(upper, &s.Shock)
	f.addRing(lower, &s.Shock)
	var u, l massProperties
	upper.massProperties(0, &u)
	lower.massProperties(0, &l)
	turn := upper.y.rotation()
	axis := turn.toWorld(r3.Vec{X: 1})
	if s.Shock.Push <= 0 {
		whole := u.mass + l.mass
		upper.y.setVec(atVelocity, plus(upper.y.vec(atVelocity), scaled(s.Speed*(l.mass/whole), axis)))
		lower.y.setVec(atVelocity, plus(lower.y.vec(atVelocity), scaled(-s.Speed*(u.mass/whole), axis)))
		return
	}
	impulse := s.Speed * u.mass * l.mass / (u.mass + l.mass)
	twist := r3.Vec{Z: float64(s.Shock.Offset * impulse)}
	f.addPulse(upper, upper.low, s.Shock.Push, scaled(impulse, axis), scaled(-1, twist))
	f.addPulse(lower, lower.top, s.Shock.Push, scaled(-impulse, axis), twist)
}

// fireDeviceShock is the charge of a device, which throws its pack off towards the nose: the body gets the pack's
// momentum the other way, and rings. The lines give it back at line stretch. The pack stays part of the body's mass.
func (f *Flight) fireDeviceShock(b *body, stage int, d *sim.Device) {
	f.addRing(b, &d.Shock)
	if d.Shock.Push <= 0 {
		return
	}
	var m massProperties
	b.massProperties(0, &m)
	impulse := reducedMass(d.Snatch.Mass, m.mass) * d.Snatch.Speed
	turn := b.y.rotation()
	f.addPulse(b, stage, d.Shock.Push, turn.toWorld(r3.Vec{X: -impulse}), r3.Vec{Z: float64(d.Shock.Offset * impulse)})
}

// reducedMass is that of two bodies that push or pull each other.
func reducedMass(a, b float64) float64 {
	if a <= 0 {
		return 0
	}
	return a * b / (a + b)
}

// springPulse gives the peak in N and the length of the pulse of a spring that stops a mass at a speed, and doesn't
// spring back: the peak is speed*sqrt(k m) (a textbook result), the momentum m*speed gives the length.
func springPulse(mass, speed, stiffness float64) (peak float64, length sim.Time) {
	if mass <= 0 || speed <= 0 || stiffness <= 0 {
		return 0, 0
	}
	peak = speed * math.Sqrt(stiffness*mass)
	length = sim.Seconds(0.5 * math.Pi * mass * speed / peak)
	if length < minPulse {
		peak *= length.Seconds() / minPulse.Seconds()
		length = minPulse
	}
	return peak, length
}

// sweepPressure is the dynamic pressure in Pa at which the air has carried a pack half the way from where its charge
// threw it to behind the body. Common practice, no source.
const sweepPressure = 20.0

// pullOfLines gives the direction of the pull at line stretch, body axes: towards the nose, where the pack was thrown,
// turned towards the wind that carries the pack along.
func (b *body) pullOfLines(thrown float64) r3.Vec {
	fl := &b.flow
	b.y.rotate(&fl.rotation)
	b.airData(&b.y, fl)
	q := float64(0.5 * fl.density * float64(fl.speed*fl.speed))
	d := plus(r3.Vec{X: thrown}, scaled(-q/(q+sweepPressure), fl.air))
	size := math.Sqrt(dot(d, d))
	if !(size > 1e-3) {
		return r3.Vec{X: 1}
	}
	return scaled(1/size, d)
}

// snatch is the pull of the lines at line stretch: they bring the pack to the body's speed. It acts at the front of
// the device's stage and turns the body over. It gives the pull's peak in N.
func (f *Flight) snatch(b *body, stage int, s *sim.Snatch) float64 {
	var m massProperties
	b.massProperties(0, &m)
	mu := reducedMass(s.Mass, m.mass)
	peak, length := springPulse(mu, s.Speed, s.Stiffness)
	if length == 0 {
		return 0
	}
	impulse := scaled(mu*s.Speed, b.pullOfLines(s.Speed))
	front := 0.0
	for i := b.top; i < stage; i++ {
		front += f.stages[i].spec.Length
	}
	turn := b.y.rotation()
	f.addPulse(b, stage, length, turn.toWorld(impulse), cross(r3.Vec{X: m.cg - front}, impulse))
	return peak
}
