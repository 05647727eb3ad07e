package flight

import (
	"drystage/sim"
	"drystage/sim/r3"
)

// moments are mass moments about the body's front end, so that those of parts can be added.
type moments struct {
	mass   float64 // kg
	first  float64 // kg m
	second float64 // kg m2, transverse, about the front end (parallel axis)
	axial  float64 // kg m2
}

// add puts in a part: its mass, its place in m from the body's front end, its own inertia.
func (m *moments) add(mass, place float64, own sim.Inertia) {
	m.mass += mass
	m.first += float64(mass * place)
	m.second += own.Transverse + float64(mass*float64(place*place))
	m.axial += own.Axial
}

// grain is the propellant of a motor, per kilogram: a uniform solid cylinder that burns evenly over its whole
// volume, so that its centre stays where it is.
type grain struct {
	place         float64 // m from the body's front end to its middle
	axial, second float64 // m2: axial, and transverse about the body's front end
}

func newGrain(mount *sim.Mount, front float64) grain {
	m := &mount.Motor
	g := grain{place: front + mount.Station + float64(m.Length/2)}
	own := offAxis(solidCylinder(1, m.Length, m.Diameter), 1, mount)
	g.axial, g.second = own.Axial, own.Transverse+float64(g.place*g.place)
	return g
}

func (m *moments) addGrain(mass float64, g *grain) {
	m.mass += mass
	m.first += float64(mass * g.place)
	m.second += float64(mass * g.second)
	m.axial += float64(mass * g.axial)
}

// solidCylinder gives the inertia of a solid cylinder.
func solidCylinder(mass, length, diameter float64) sim.Inertia {
	r2 := diameter * diameter / 4
	return sim.Inertia{Axial: float64(mass * r2 / 2), Transverse: float64(mass * (float64(3*r2) + float64(length*length)) / 12)}
}

// thinTube gives the inertia of a thin tube.
func thinTube(mass, length, diameter float64) sim.Inertia {
	r2 := diameter * diameter / 4
	return sim.Inertia{Axial: float64(mass * r2), Transverse: float64(mass * (float64(6*r2) + float64(length*length)) / 12)}
}

// offAxis adds the inertia of a motor's distance from the axis. The masses of a cluster count as evenly spread
// round the axis, so the centre of gravity stays on the axis even when one of its motors hasn't burnt.
func offAxis(own sim.Inertia, mass float64, m *sim.Mount) sim.Inertia {
	if m.Motors() > 1 {
		out := float64(mass * float64(m.Radius*m.Radius))
		own.Axial += out
		own.Transverse += float64(out / 2)
	}
	return own
}

// dryMoments gives the moments of a stage without propellant; front is the distance in m of its front end from
// the body's. A stage without stated inertia counts as a solid cylinder, the motor's case as a thin tube.
func dryMoments(s *sim.Stage, front float64) moments {
	var m moments
	own := s.Inertia
	if own.Axial <= 0 || own.Transverse <= 0 {
		own = solidCylinder(s.Mass, s.Length, s.Diameter)
	}
	m.add(s.Mass, front+s.CG, own)
	c := &s.Mount.Motor
	for range s.Mount.Motors() {
		m.add(c.Case, front+s.Mount.Station+float64(c.Length/2), offAxis(thinTube(c.Case, c.Length, c.Diameter), c.Case, &s.Mount))
	}
	return m
}

// The smallest mass and inertia used, so that nothing is divided by zero.
const (
	minMass    = 1e-4 // kg
	minInertia = 1e-9 // kg m2
)

// massProperties are a body's mass properties and thrust at one instant.
type massProperties struct {
	mass, cg          float64 // kg, m from the front end
	axial, transverse float64 // kg m2 about the centre of gravity
	// Their inverses, 1/kg and 1/(kg m2).
	perMass, perAxial, perTransverse float64
	thrust                           float64 // N, along the axis
	sideThrust                       r3.Vec  // N, of thrust across the axis, body axes; X is 0
	thrustMoment                     r3.Vec  // N m, of thrust about the centre of gravity, body axes
	jetDamping                       float64 // N m s; below 0 it drives the turning
}

// massProperties computes them s seconds after the step's start.
func (b *body) massProperties(s float64, p *massProperties) {
	m := b.fixed
	p.thrust = 0
	for i := range b.burns {
		t, left := b.burns[i].at(s)
		p.thrust += float64(t * b.burns[i].thrustAxis.X)
		m.addGrain(left, &b.burns[i].grain)
	}
	p.mass = m.mass
	if !(p.mass > minMass) {
		p.mass = minMass
	}
	p.perMass = 1 / p.mass
	p.cg = float64(m.first * p.perMass)
	p.axial = m.axial
	if !(p.axial > minInertia) {
		p.axial = minInertia
	}
	p.transverse = m.second - float64(m.first*p.cg)
	if least := float64(0.5 * p.axial); !(p.transverse > least) { // no solid body has less
		p.transverse = least
	}
	p.perAxial, p.perTransverse = 1/p.axial, 1/p.transverse
	p.jetDamping = 0
	for i := range b.burns {
		n := &b.burns[i]
		p.jetDamping += float64(float64(n.massPerImpulse*(n.thrust+float64(n.slope*s))) * n.jetArm2(p.cg))
	}
	if b.thrustOffAxis {
		b.addOffAxisThrust(s, p)
	}
}

// jetArm2 is jet damping per mass flow, in m2: l^2 - k^2, with the distance l of the nozzle from the centre of gravity
// and the radius of gyration k of the propellant about it across the axis (Thomson, Introduction to Space Dynamics,
// 1961, from memory). l^2 is what the jet carries off, k^2 is how fast the moment of inertia falls.
func (n *burn) jetArm2(cg float64) float64 {
	arm := n.nozzle - cg
	return float64(arm*arm) - (n.grain.second - float64(cg*(float64(2*n.grain.place)-cg)))
}

// addOffAxisThrust adds the side force and the moment of thrust that isn't along the body's axis.
func (b *body) addOffAxisThrust(s float64, p *massProperties) {
	p.sideThrust, p.thrustMoment = r3.Vec{}, r3.Vec{}
	for i := range b.burns {
		n := &b.burns[i]
		t, _ := n.at(s)
		p.addSideThrust(n, t)
	}
}

// addSideThrust adds the side force and the moment of t newtons along a motor's line of thrust.
func (p *massProperties) addSideThrust(n *burn, t float64) {
	force := scaled(t, n.thrustAxis)
	p.sideThrust.Y += force.Y
	p.sideThrust.Z += force.Z
	p.thrustMoment = plus(p.thrustMoment, cross(r3.Vec{X: p.cg - n.nozzle, Y: n.y, Z: n.z}, force))
}
