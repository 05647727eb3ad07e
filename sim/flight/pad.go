package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// padMotion is the motion of the rocket before liftoff: it is carried, raised, dropped on its stop, knocked, and rocked
// by the wind, about the foot of its rail. All is over at the launch, as the rail is rigid in the flight: what is left
// of the swing fades in the second before.
type padMotion struct {
	spec     *sim.Pad
	any      bool // something moves
	until    sim.Time
	gravity  float64 // m/s2, along the rail
	lying    float64 // tangent of half the angle by which the rocket turns when it is raised
	arm      float64 // m, from the foot of the rail to the centre of gravity
	rail     r3.Vec
	raise    r3.Vec // horizontal unit vector: the axis of the turn from lying to standing, seen downwards
	omega    float64
	rocking  [2]tones // along and across the wind
	swinging bool
	windward r3.Vec // unit: where the wind goes
	current  lean
}

// fadeTime is how long before the launch the swing of the rail begins to fade.
const fadeTime = sim.Second

// newPadMotion prepares the motion of the whole rocket on its pad.
func newPadMotion(f *Flight, b *body) padMotion {
	s := f.setup
	p := padMotion{spec: &s.Pad, until: s.Launch, rail: f.rail.axis, arm: b.shape.size - b.flow.cg}
	p.gravity = float64(f.gravity.at(0) * p.rail.Z)
	sin, cos := plain.Sincos(s.Vehicle.Rail.Azimuth)
	p.raise = r3.Vec{X: -cos, Y: sin} // a turn of the nose towards the azimuth
	sinHalf, cosHalf := plain.Sincos(float64(0.5 * max(0, 0.5*math.Pi-s.Vehicle.Rail.Tilt)))
	p.lying = sinHalf / cosHalf
	if o := &s.Pad.Rocking; o.Frequency > 0 {
		p.omega = float64(2 * math.Pi * o.Frequency)
		p.rock(f, b)
	}
	p.any = p.swinging || s.Pad.Raised != (sim.Span{}) || s.Pad.Carried.Until > 0 || len(s.Pad.Drops)+len(s.Pad.Knocks) > 0
	return p
}

// rock prepares the swing that gusts keep up. A gust u in a wind U presses on the whole length with the moment
// M (2 u/U) along the wind and M v/U across it, where M is that of the wind alone (Davenport, Proc. ICE 19, 1961,
// linear in the gust). Near resonance the spectrum of gusts counts as white: the variance of the swing is
// pi/(4 damping) omega S(omega)/K^2, with K the stiffness and S the one-sided spectrum of the moment (Crandall and Mark,
// Random Vibration in Mechanical Systems, 1963); slow gusts lean the rocket by less. Spectra are Dryden's.
func (p *padMotion) rock(f *Flight, b *body) {
	const crossDrag = 1.2 // of a cylinder across a slow flow (common practice, no source)
	height, area := 0.0, 0.0
	for i := range f.setup.Vehicle.Stages {
		st := &f.setup.Vehicle.Stages[i]
		area += float64(st.Length * st.Diameter)
	}
	height = float64(0.5 * b.shape.size)
	east, north := f.wind.steady(height)
	speed := math.Sqrt(float64(east*east) + float64(north*north))
	if speed == 0 {
		return
	}
	p.swinging = true
	e20, n20 := f.wind.steady(surfaceHeight * metresPerFoot)
	gust := drydenAt(height, math.Sqrt(float64(e20*e20)+float64(n20*n20)), 0)
	moment := float64(0.5*f.air.At(0).Density*float64(speed*speed)) * float64(crossDrag*area*height)
	stiffness := float64(float64(p.omega*p.omega) * (b.flow.transverse + float64(b.flow.mass*float64(p.arm*p.arm))))
	x := float64(gust.horizontalScale*p.omega) / speed
	x2 := float64(x * x)
	along := float64(2*gust.horizontalScale/(math.Pi*speed)) / (1 + x2)
	across := float64(gust.horizontalScale/(math.Pi*speed)) * (1 + float64(3*x2)) / float64((1+x2)*(1+x2))
	size := func(gain, spectrum float64) float64 {
		return float64(gain*moment/stiffness*gust.horizontalRMS/speed) * math.Sqrt(float64(math.Pi*p.omega*spectrum)/(4*p.spec.Rocking.Damping))
	}
	for i, sigma := range [...]float64{size(2, along), size(1, across)} {
		random := noise.New(f.setup.Seed, [...]string{"pad.along", "pad.across"}[i])
		p.rocking[i] = newTones(float64(0.5*sigma), p.omega, p.spec.Rocking.Damping, random) // half: of the Gibbs vector
	}
	p.windward = r3.Vec{X: east / speed, Y: north / speed}
}

// lean gives the motion at a time; nil: the rocket stands still.
func (p *padMotion) lean(b *body, t sim.Time) *lean {
	if !p.any || t >= p.until || !b.allStages {
		return nil
	}
	l := &p.current
	*l = lean{arm: motion{x: p.arm}, way: p.rail}
	s := p.spec
	if t < s.Raised.Until {
		down := motion{x: 1}.plus(smoothMotion(t, s.Raised.From, s.Raised.Until).scaled(-1)).scaled(p.lying)
		if c := &s.Carried; t < c.Until {
			down = down.plus(p.carried(t, l))
		}
		l.east, l.north = down.scaled(p.raise.X), down.scaled(p.raise.Y)
		return l
	}
	for i := range s.Drops {
		l.shift = l.shift.plus(p.drop(&s.Drops[i], t))
	}
	if !p.swinging && len(s.Knocks) == 0 {
		return l
	}
	var east, north motion // of the nose
	if p.swinging {
		along, across := p.rocking[0].at(t.Seconds()), p.rocking[1].at(t.Seconds())
		east = along.scaled(p.windward.X).plus(across.scaled(-p.windward.Y))
		north = along.scaled(p.windward.Y).plus(across.scaled(p.windward.X))
	}
	if s.Raised.Until > 0 {
		grow := smoothMotion(t, s.Raised.Until, s.Raised.Until+fadeTime)
		east, north = east.times(grow), north.times(grow)
	}
	for i := range s.Knocks {
		k := &s.Knocks[i]
		if t <= k.At {
			continue
		}
		sin, cos := plain.Sincos(k.Toward)
		m := p.knock(k, (t - k.At).Seconds())
		east, north = east.plus(m.scaled(sin)), north.plus(m.scaled(cos))
	}
	fade := motion{x: 1}.plus(smoothMotion(t, p.until-fadeTime, p.until).scaled(-1))
	east, north = east.times(fade), north.times(fade)
	l.east, l.north = north.scaled(-1), east // up turned about (-north, east) leans to (east, north)
	return l
}

// carried gives the swing of a rocket that is carried, and puts its steps into the lean.
func (p *padMotion) carried(t sim.Time, l *lean) motion {
	c := &p.spec.Carried
	still := motion{x: 1}.plus(smoothMotion(t, max(0, c.Until-fadeTime), c.Until).scaled(-1))
	omega := float64(2 * math.Pi * c.Pace)
	sin, cos := plain.Sincos(float64(omega * t.Seconds()))
	size := c.Bounce / float64(omega*omega)
	l.way = r3.Vec{Z: 1}
	l.shift = motion{float64(size * (1 - cos)), float64(size * float64(omega*sin)), float64(c.Bounce * cos)}.times(still)
	omega *= 0.5
	sin, cos = plain.Sincos(float64(omega * t.Seconds()))
	size = float64(0.5 * c.Sway)
	return motion{float64(size * sin), float64(size * float64(omega*cos)), -float64(size * float64(float64(omega*omega)*sin))}.times(still)
}

// liftTime is how long the rocket is lifted before a drop.
const liftTime = 500 * sim.Millisecond

// drop gives the motion along the rail: up, a free fall, and the half sine of the stop, which takes all of its speed.
func (p *padMotion) drop(d *sim.Drop, t sim.Time) motion {
	if t <= d.At {
		return smoothMotion(t, d.At-liftTime, d.At).scaled(d.Height)
	}
	g, stop := p.gravity, d.Stop.Seconds()
	half := float64(0.5 * stop)
	fall := math.Sqrt(float64(half*half)+float64(2*d.Height)/g) - half // Height = g fall^2/2 + g fall stop/2
	s := (t - d.At).Seconds()
	if s < fall {
		return motion{d.Height - float64(0.5*g*float64(s*s)), -float64(g * s), -g}
	}
	s -= fall
	if s >= stop {
		return motion{}
	}
	v := float64(g * fall)
	sin, cos := plain.Sincos(float64(math.Pi * s / stop))
	return motion{
		x: float64(half*v) - float64(float64(0.5*v)*(s+float64(stop/math.Pi*sin))),
		v: -float64(0.5 * v * (1 + cos)),
		a: float64(math.Pi/float64(2*stop)) * float64(v*sin),
	}
}

// knock gives the swing, s seconds after a blow begins: that of a damped oscillator at rest which a half-sine pulse
// drives, and after the pulse its free swing (the closed form of every textbook on vibration).
func (p *padMotion) knock(k *sim.Knock, s float64) motion {
	zeta := p.spec.Rocking.Damping
	if p.omega == 0 { // a rigid rail
		return motion{}
	}
	length := k.Length.Seconds()
	drive := math.Pi / length
	w2, d2 := float64(p.omega*p.omega), float64(drive*drive)
	loss := float64(2 * zeta * p.omega * drive)
	push := float64(0.5*k.Speed/p.arm) * float64(0.5*drive) // half: of the Gibbs vector
	scale := push / (float64((w2-d2)*(w2-d2)) + float64(loss*loss))
	a, b := float64(scale*(w2-d2)), -float64(scale*loss)
	x0, v0 := -b, -float64(a*drive) // of the free swing
	if s >= length {
		m := p.freeSwing(x0, v0, length)
		return p.freeSwing(m.x-b, m.v-float64(a*drive), s-length)
	}
	sin, cos := plain.Sincos(float64(drive * s))
	forced := motion{float64(a*sin) + float64(b*cos), float64(drive * (float64(a*cos) - float64(b*sin))), -float64(d2 * (float64(a*sin) + float64(b*cos)))}
	return forced.plus(p.freeSwing(x0, v0, s))
}

// freeSwing gives the free swing of the rail, s seconds after it had the place x and the speed v.
func (p *padMotion) freeSwing(x, v, s float64) motion {
	zeta := p.spec.Rocking.Damping
	slow := float64(zeta * p.omega)
	ring := float64(p.omega * math.Sqrt(1-float64(zeta*zeta)))
	sin, cos := plain.Sincos(float64(ring * s))
	e := plain.Exp(-float64(slow * s))
	c, d := x, (v+float64(slow*x))/ring
	m := motion{x: float64(e * (float64(c*cos) + float64(d*sin)))}
	m.v = float64(e*float64(ring*(float64(d*cos)-float64(c*sin)))) - float64(slow*m.x)
	m.a = -float64(float64(2*slow)*m.v) - float64(float64(p.omega*p.omega)*m.x)
	return m
}
