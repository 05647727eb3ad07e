package flight

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// flow is what an evaluation of the forces finds out on its way, for States and events.
type flow struct {
	properties
	meeting
	turn        rotation
	force       r3.Vec     // m/s2, specific force, body axes
	cell        *airCubics // of the height, with the place in it: for what the forces don't ask
	in          float64
	temperature float64 // only where the drag asks for it
	soft        float64 // the least factor by which air loads were softened; 1: none
	// What a veer adds to the rates and to their change, rad/s and rad/s2, body axes.
	strayed, straying r3.Vec
}

// meeting is the air that a body meets.
type meeting struct {
	air     r3.Vec  // m/s, velocity through the air, body axes
	speed   float64 // m/s
	mach    float64
	density float64 // kg/m3
	height  float64 // m above the site
}

// The quickest swing (rad/s), damping and stopping (1/s) that the air may give a body: beyond them all
// air loads soften by one factor, so that they still only take energy. No airframe is rigid at 100 Hz,
// and the steps stay long for vehicles of any shape.
const (
	quickestSwing   = 600.0
	quickestDamping = 600.0
	quickestStop    = 2000.0
)

// slope is the right-hand side of the equations of motion: the rates of change k of the state y, s
// seconds after the start of the step. It leaves what it found in b.flow.
func (b *body) slope(s float64, y, k *vector) {
	fl := &b.flow
	if len(b.burns) > 0 { // else they are as loaded
		b.weigh(s, &fl.properties)
	}
	turn := &fl.turn
	y.rotate(turn)
	height := y[2]
	b.breathe(y, fl)
	var across airload
	b.across(y, &across)
	if b.shape.built != nil {
		fl.temperature = cubic(&fl.cell.temperature, fl.in)
	}
	own := b.shape.dragArea(fl, b.line)
	area := 0.0
	if len(b.canopies) > 0 {
		area = b.hang(s, own, &across)
	}
	q2 := float64(0.5 * fl.density * fl.speed) // drag of an area at speed u is q2*u*area
	pull := float64(q2 * area)
	drag := float64(q2 * own)
	perMass := fl.perMass
	across.soften(fl, drag+pull)
	fl.soft = across.soft
	soft := float64(across.soft * perMass)
	fl.force = r3.Vec{
		X: float64(fl.thrust*perMass) - float64(float64((drag+pull)*fl.air.X)*soft),
		Y: float64((across.force.Y - float64(pull*fl.air.Y)) * soft),
		Z: float64((across.force.Z - float64(pull*fl.air.Z)) * soft),
	}
	if b.skewed {
		fl.force.Y += float64(fl.push.Y * perMass)
		fl.force.Z += float64(fl.push.Z * perMass)
	}
	if len(b.pulls) > 0 {
		fl.force.X += float64(b.pull(s) * perMass)
	}
	a := turn.world(fl.force)
	g := b.gravity.at(height)
	a.Z -= g
	if b.gripped() {
		a = b.rail.grip(a, dot(y.vec(atVelocity), b.rail.along))
		fl.force = turn.body(r3.Vec{X: a.X, Y: a.Y, Z: a.Z + g})
		*k = vector{y[3], y[4], y[5], a.X, a.Y, a.Z}
		return
	}
	k[0], k[1], k[2] = y[3], y[4], y[5]
	k.setVec(atVelocity, plus(a, b.gravity.coriolis(y.vec(atVelocity))))
	b.spin(y, &across, k)
	if len(b.veers) > 0 {
		b.stray(s, y, k)
	}
	if b.tipping {
		b.pivot(y, k)
	}
}

// gripped says that the rail holds all but the way along it.
func (b *body) gripped() bool { return b.mode == onRail && !b.tipping }

// breathe finds the air around the body and its velocity through it, as it is turned.
func (b *surroundings) breathe(y *vector, fl *flow) {
	c, x := b.air.cell(y[2])
	fl.cell, fl.in, fl.height = c, x, y[2]
	fl.density = cubic(&c.density, x)
	east, north, up := b.wind.at(y[2])
	v := r3.Vec{X: y[3] - east, Y: y[4] - north, Z: y[5] - up}
	fl.air = fl.turn.body(v)
	fl.speed = math.Sqrt(dot(v, v))
	fl.mach = float64(fl.speed * cubic(&c.slowness, x))
}

// airload is what the air does to a body across its axis and about it, all in body axes.
type airload struct {
	force  r3.Vec  // N
	turn   r3.Vec  // N m about the centre of gravity
	stop   float64 // N s/m, of the crosswise forces
	stiff  float64 // N m/rad, at most
	damped float64 // N m s
	soft   float64 // 0 to 1: the factor of all
	hang   float64 // 0 to 1: share of the pendulum below open devices
}

// across sums the parts into l. A part at arm a ahead of the centre of gravity moves with v + omega x a.
func (b *body) across(y *vector, l *airload) {
	fl := &b.flow
	q, r := y[11], y[12]
	u, v, w := fl.air.X, fl.air.Y, fl.air.Z
	forward, cg := math.Abs(u), fl.cg
	cell, in := machCell(fl.mach)
	var fy, fz, ty, tz, stop, stiff, damped float64
	parts := b.shape.parts
	for i := range parts {
		n := &parts[i]
		arm := cg - n.place
		c := float64(n.body * u)
		if n.fin != 0 {
			fin := float64(n.fin * forward)
			if n.speeds != nil {
				s := &n.speeds[cell]
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
		stop += c
		c = float64(c * arm)
		stiff += math.Abs(c)
		damped += float64(c * arm)
	}
	rho := fl.density
	o := &b.shape.roll
	if p := y[10]; o.force != 0 || p != 0 {
		swing := forward
		if o.speeds != nil {
			swing = float64(swing * cubic(&o.speeds[cell].slope, in))
		}
		l.turn.X = float64(rho * (float64(o.force*float64(u*swing)) - float64(p*(float64(o.damp*swing)+float64(o.drag*math.Abs(p))))))
	}
	l.force.Y, l.force.Z = float64(rho*fy), float64(rho*fz)
	l.turn.Y, l.turn.Z = float64(rho*ty), float64(rho*tz)
	l.stop = float64(rho * stop)
	l.stiff, l.damped = float64(rho*float64(stiff*fl.speed)), float64(rho*damped)
}

// soften finds the factor of all air loads, 1 for any sane vehicle. brake is the drag in N s/m.
func (l *airload) soften(fl *flow, brake float64) {
	hard := float64((brake + l.stop) * (1 / quickestStop) * fl.perMass)
	swing := float64(l.stiff * (1 / (quickestSwing * quickestSwing)) * fl.perTransverse)
	damping := float64((l.damped + fl.jet) * (1 / quickestDamping) * fl.perTransverse)
	l.soft = 1
	if hard > 1 || swing > 1 || damping > 1 {
		l.soft = 1 / max(hard, swing, damping)
	}
}

// hang gives the drag area of the open devices in m2 and fades the side forces beside it; own is the
// body's drag area.
func (b *body) hang(s, own float64, l *airload) float64 {
	area := 0.0
	for i := range b.canopies {
		area += b.canopies[i].at(s)
	}
	if area <= 0 {
		return 0
	}
	l.hang = area / (area + own)
	rest := 1 - l.hang
	l.force.Y, l.force.Z = float64(rest*l.force.Y), float64(rest*l.force.Z)
	return area
}

// spin gives the rates of change of attitude and body rates (Euler's equations of a body whose two
// transverse moments of inertia are equal).
func (b *body) spin(y *vector, l *airload, k *vector) {
	p, q, r := y[10], y[11], y[12]
	k[6], k[7], k[8], k[9] = y.turning(p, q, r)
	fl := &b.flow
	o := &b.shape.roll
	perAxial := fl.perAxial
	if least := float64(fl.density * (float64(o.damp*fl.speed) + float64(o.drag*math.Abs(p))) * (2 / quickestDamping)); least > fl.axial {
		perAxial = 1 / least
		fl.soft = min(fl.soft, float64(fl.axial*perAxial))
	}
	rest := 1 - l.hang
	give := float64(rest * l.soft * fl.perTransverse)
	gyro := float64((1 - float64(fl.axial*fl.perTransverse)) * p)
	k[10] = float64(rest * l.turn.X * perAxial)
	k[11] = float64(gyro*r) + float64(give*(l.turn.Y-float64(fl.jet*q)))
	k[12] = -float64(gyro*q) + float64(give*(l.turn.Z-float64(fl.jet*r)))
	if b.skewed {
		k[10] += float64(fl.twist.X * fl.perAxial)
		k[11] += float64(fl.twist.Y * fl.perTransverse)
		k[12] += float64(fl.twist.Z * fl.perTransverse)
	}
	if l.hang == 0 {
		return
	}
	// The pull points against the motion through the air; below 0.1 m/s it has no direction.
	stiff := b.hangStiff
	f := float64(l.hang*stiff) / (fl.speed + 0.1)
	slow := float64(l.hang * (2 * hangDamping) * math.Sqrt(stiff))
	k[10] -= float64(l.hang * hangSpin * p)
	k[11] += float64(f*fl.air.Z) - float64(slow*q) // x cross -air = (0, air.Z, -air.Y)
	k[12] -= float64(f*fl.air.Y) + float64(slow*r)
}
