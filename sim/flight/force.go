package flight

import (
	"math"

	"drystage/sim/r3"
)

// flow holds the results of an evaluation of the forces, for States and events.
type flow struct {
	massProperties
	airData
	rotation     rotation
	force        r3.Vec     // m/s2, specific force, body axes
	cell         *airCubics // of the height, with the position in it: for values that the forces don't need
	cellFraction float64
	temperature  float64 // set only when the drag needs it
	softening    float64 // the smallest factor applied to the air loads; 1: none
	// What pulses add to the specific force and to the angular acceleration, m/s2 and rad/s2, body axes.
	pulseForce, pulseAngular r3.Vec
	// What path turns add to the rates and to the angular acceleration, rad/s and rad/s2, body axes.
	turnRate, turnAcceleration r3.Vec
}

// airData is the air around a body and its velocity through it.
type airData struct {
	air     r3.Vec  // m/s, velocity through the air, body axes
	speed   float64 // m/s
	mach    float64
	density float64 // kg/m3
	height  float64 // m above the site
}

// The largest natural frequency (rad/s), damping rate and stopping rate (1/s) that the air may give a body.
// Beyond them one factor reduces all air loads, so that they can still only take energy. No airframe is rigid
// at 100 Hz, and the limit keeps the steps long for vehicles of any shape.
const (
	maxSwingRate   = 600.0
	maxDampingRate = 600.0
	maxStopRate    = 2000.0
)

// derivative is the right-hand side of the equations of motion: the derivative k of the state y, s seconds
// after the start of the step. It leaves its results in b.flow.
func (b *body) derivative(s float64, y, k *vector) {
	if b.mode == onGround {
		b.groundDerivative(s, y, k)
		return
	}
	fl := &b.flow
	if len(b.burns) > 0 { // else they don't change in the step
		b.massProperties(s, &fl.massProperties)
	}
	turn := &fl.rotation
	y.rotate(turn)
	height := y[2]
	b.airData(y, fl)
	if b.thrustByPressure {
		b.addPressureGain(s, fl)
	}
	var loads airLoads
	b.normalForce(y, &loads)
	if b.shape.built != nil {
		fl.temperature = cubic(&fl.cell.temperature, fl.cellFraction)
	}
	bodyArea := b.shape.dragArea(fl, b.dragSegment)
	area := 0.0
	if len(b.canopies) > 0 {
		area = b.parachuteDrag(s, bodyArea, &loads)
	}
	q2 := float64(0.5 * fl.density * fl.speed) // drag of an area at speed u is q2*u*area
	canopyDrag := float64(q2 * area)
	drag := float64(q2 * bodyArea)
	perMass := fl.perMass
	loads.soften(fl, drag+canopyDrag)
	fl.softening = loads.softening
	perMassSoftened := float64(loads.softening * perMass)
	fl.force = r3.Vec{
		X: float64(fl.thrust*perMass) - float64(float64((drag+canopyDrag)*fl.air.X)*perMassSoftened),
		Y: float64((loads.force.Y - float64(canopyDrag*fl.air.Y)) * perMassSoftened),
		Z: float64((loads.force.Z - float64(canopyDrag*fl.air.Z)) * perMassSoftened),
	}
	if b.thrustOffAxis {
		fl.force.Y += float64(fl.sideThrust.Y * perMass)
		fl.force.Z += float64(fl.sideThrust.Z * perMass)
	}
	if len(b.pulses) > 0 {
		b.applyPulses(s)
		fl.force = plus(fl.force, fl.pulseForce)
	}
	a := turn.toWorld(fl.force)
	g := b.gravity.at(height)
	a.Z -= g
	if b.heldByRail() {
		a = b.rail.constrain(a, dot(y.vec(atVelocity), b.rail.axis))
		fl.force = turn.toBody(r3.Vec{X: a.X, Y: a.Y, Z: a.Z + g})
		*k = vector{y[3], y[4], y[5], a.X, a.Y, a.Z}
		return
	}
	over := b.gravity.over(height)
	k[0], k[1], k[2] = float64(over*y[3]), float64(over*y[4]), y[5]
	k.setVec(atVelocity, plus(a, b.gravity.axes(y.vec(atVelocity), over)))
	b.attitudeRate(y, &loads, k)
	if len(b.pulses) > 0 {
		k.setVec(atRates, plus(k.vec(atRates), fl.pulseAngular))
	}
	if len(b.pathTurns) > 0 {
		b.addPathTurns(s, y, k)
	}
	if b.onAftGuide {
		b.constrainToAftGuide(y, k)
	}
}

// heldByRail says that the body can only move along the rail.
func (b *body) heldByRail() bool { return b.mode == onRail && !b.onAftGuide }

// airData computes the air around the body and its velocity through it; fl.rotation must be set.
func (b *environment) airData(y *vector, fl *flow) {
	c, x := b.air.cell(y[2])
	fl.cell, fl.cellFraction, fl.height = c, x, y[2]
	fl.density = cubic(&c.density, x)
	east, north, up := b.wind.at(y[2])
	v := r3.Vec{X: y[3] - east, Y: y[4] - north, Z: y[5] - up}
	fl.air = fl.rotation.toBody(v)
	fl.speed = math.Sqrt(dot(v, v))
	fl.mach = float64(fl.speed * cubic(&c.slowness, x))
}

// airLoads are the side forces and moments of the air on a body, in body axes.
type airLoads struct {
	force         r3.Vec  // N
	moment        r3.Vec  // N m about the centre of gravity
	sideDamping   float64 // N s/m, of the side forces
	stiffness     float64 // N m/rad, an upper bound
	damping       float64 // N m s
	softening     float64 // 0 to 1: the factor on all air loads
	pendulumShare float64 // 0 to 1: weight of the pendulum model below open devices
}

// normalForce sums the normal forces of the parts into l. A part at arm a ahead of the centre of gravity moves
// with v + omega x a.
func (b *body) normalForce(y *vector, l *airLoads) {
	fl := &b.flow
	q, r := y[11], y[12]
	u, v, w := fl.air.X, fl.air.Y, fl.air.Z
	forward, cg := math.Abs(u), fl.cg
	cell, in := machCell(fl.mach)
	var fy, fz, ty, tz, sideDamping, stiffness, damping float64
	parts := b.shape.parts
	for i := range parts {
		n := &parts[i]
		arm := cg - n.place
		c := float64(n.body * u)
		if n.fin != 0 {
			fin := float64(n.fin * forward)
			if n.machTable != nil {
				s := &n.machTable[cell]
				fin = float64(fin * cubic(&s.slope, in))
				arm -= cubic(&s.shift, in)
			}
			c += fin
		}
		vi, wi := v+float64(r*arm), w-float64(q*arm)
		if n.cross != 0 {
			c += float64(n.cross * math.Sqrt(float64(vi*vi)+float64(wi*wi)))
		}
		y, z := float64(c*vi), float64(c*wi)
		fy -= y
		fz -= z
		ty += float64(arm * z)
		tz -= float64(arm * y)
		if c < 0 {
			c = -c
		}
		sideDamping += c
		c = float64(c * arm)
		stiffness += math.Abs(c)
		damping += float64(c * arm)
	}
	rho := fl.density
	o := &b.shape.roll
	if p := y[10]; o.force != 0 || p != 0 {
		swing := forward
		if o.machTable != nil {
			swing = float64(swing * cubic(&o.machTable[cell].slope, in))
		}
		l.moment.X = float64(rho * (float64(o.force*float64(u*swing)) - float64(p*(float64(o.damp*swing)+float64(o.drag*math.Abs(p))))))
	}
	l.force.Y, l.force.Z = float64(rho*fy), float64(rho*fz)
	l.moment.Y, l.moment.Z = float64(rho*ty), float64(rho*tz)
	l.sideDamping = float64(rho * sideDamping)
	l.stiffness, l.damping = float64(rho*float64(stiffness*fl.speed)), float64(rho*damping)
}

// soften computes the factor on all air loads; it is 1 for any realistic vehicle. brake is the drag in N s/m.
func (l *airLoads) soften(fl *flow, brake float64) {
	hard := float64((brake + l.sideDamping) * (1 / maxStopRate) * fl.perMass)
	swing := float64(l.stiffness * (1 / (maxSwingRate * maxSwingRate)) * fl.perTransverse)
	damping := float64((l.damping + fl.jetDamping) * (1 / maxDampingRate) * fl.perTransverse)
	l.softening = 1
	if hard > 1 || swing > 1 || damping > 1 {
		l.softening = 1 / max(hard, swing, damping)
	}
}

// parachuteDrag gives the drag area of the open devices in m2 and reduces the body's side forces accordingly;
// bodyArea is the body's drag area.
func (b *body) parachuteDrag(s, bodyArea float64, l *airLoads) float64 {
	area := 0.0
	for i := range b.canopies {
		area += b.canopies[i].at(s)
	}
	if area <= 0 {
		return 0
	}
	l.pendulumShare = area / (area + bodyArea)
	rest := 1 - l.pendulumShare
	l.force.Y, l.force.Z = float64(rest*l.force.Y), float64(rest*l.force.Z)
	return area
}

// attitudeRate gives the derivatives of attitude and body rates: Euler's equations of a body whose two
// transverse moments of inertia are equal.
func (b *body) attitudeRate(y *vector, l *airLoads, k *vector) {
	p, q, r := y[10], y[11], y[12]
	k[6], k[7], k[8], k[9] = y.attitudeRates(p, q, r)
	fl := &b.flow
	o := &b.shape.roll
	perAxial := fl.perAxial
	if least := float64(fl.density * (float64(o.damp*fl.speed) + float64(o.drag*math.Abs(p))) * (2 / maxDampingRate)); least > fl.axial {
		perAxial = 1 / least
		fl.softening = min(fl.softening, float64(fl.axial*perAxial))
	}
	rest := 1 - l.pendulumShare
	give := float64(rest * l.softening * fl.perTransverse)
	gyro := float64((1 - float64(fl.axial*fl.perTransverse)) * p)
	k[10] = float64(rest * l.moment.X * perAxial)
	k[11] = float64(gyro*r) + float64(give*(l.moment.Y-float64(fl.jetDamping*q)))
	k[12] = -float64(gyro*q) + float64(give*(l.moment.Z-float64(fl.jetDamping*r)))
	if b.thrustOffAxis {
		k[10] += float64(fl.thrustMoment.X * fl.perAxial)
		k[11] += float64(fl.thrustMoment.Y * fl.perTransverse)
		k[12] += float64(fl.thrustMoment.Z * fl.perTransverse)
	}
	if l.pendulumShare == 0 {
		return
	}
	// The pull points against the motion through the air; below 0.1 m/s it has no direction.
	stiff := b.pendulumStiffness
	f := float64(l.pendulumShare*stiff) / (fl.speed + 0.1)
	slow := float64(l.pendulumShare * (2 * pendulumDamping) * math.Sqrt(stiff))
	k[10] -= float64(l.pendulumShare * spinDecay * p)
	k[11] += float64(f*fl.air.Z) - float64(slow*q) // x cross -air = (0, air.Z, -air.Y)
	k[12] -= float64(f*fl.air.Y) + float64(slow*r)
}
