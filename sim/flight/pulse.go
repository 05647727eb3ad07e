package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// pulse is a force and a moment on one body for some milliseconds, half a sine wave in time: a push that parts two
// bodies, a charge, the snatch of lines, the ground. Its direction doesn't turn with the body, so that what pushes two
// bodies apart keeps their momentum.
type pulse struct {
	at, length sim.Time
	stage      int    // on which it acts
	impulse    r3.Vec // N s, world axes
	twist      r3.Vec // N m s, body axes, about the centre of gravity
	// What accelerometers integrate it to: velocity in m/s and rate in rad/s, body axes, with the mass at its start.
	velocity, rate r3.Vec
}

// Pulses that are over are kept for rememberPulses, so that sensors can look back over their sample period; and lately is
// how far sim.Shock.Most looks back.
const (
	rememberPulses = sim.Second
	lately         = 20 * sim.Millisecond
)

// pulseRoom is room for pulses at the same time, besides those of devices.
const pulseRoom = 6

// pulseSteps is the least number of steps in a pulse, so that its integral is right to 1e-9 between them too.
const pulseSteps = 8

// minPulse keeps a pulse long enough for a step.
const minPulse = sim.Millisecond

// ring is the damped vibration of a body's structure after a charge: a sine of the velocity that dies away. The body as
// a whole doesn't move, so the integrals of what sensors feel end at zero.
type ring struct {
	at            sim.Time
	omega, decay  float64 // rad/s, 1/s
	speed, turned r3.Vec  // m/s and rad, body axes
}

// ringSilent is how many time constants a ring is felt for.
const ringSilent = 12

// ringAcross is the share of a ring's velocity across the axis, towards y and z. Common practice, no source.
var ringAcross = r3.Vec{X: 1, Y: 0.5, Z: 0.3}

// addPulse starts a pulse on the body of a stage. The step must have ended at the present; the caller then calls
// computeStep. A body at rest on the ground or the pad is held there.
func (f *Flight) addPulse(b *body, stage int, length sim.Time, impulse, twist r3.Vec) {
	f.addPulseFrom(f.now, b, stage, length, impulse, twist)
}

// addPulseFrom is addPulse for a pulse that began at a time up to the present, and has moved nothing before.
func (f *Flight) addPulseFrom(at sim.Time, b *body, stage int, length sim.Time, impulse, twist r3.Vec) {
	if b.atRest() || (impulse == r3.Vec{} && twist == r3.Vec{}) {
		return
	}
	length = max(length, minPulse)
	var m massProperties
	b.massProperties(0, &m)
	turn := b.y.rotation()
	b.pulses = append(b.pulses, pulse{
		at: at, length: length, stage: stage, impulse: impulse, twist: twist,
		velocity: scaled(m.perMass, turn.toBody(impulse)), rate: perInertia(&m, twist),
	})
	if p := &b.pulses[len(b.pulses)-1]; at < f.now {
		held := p.past(f.now)
		b.felt.Velocity, b.felt.Rate = plus(b.felt.Velocity, scaled(-held, p.velocity)), plus(b.felt.Rate, scaled(-held, p.rate))
	}
	b.shockShown = false
	f.schedule(action{at: at + length, kind: doUpdateForces, stage: stage})
}

// perInertia divides a moment by a body's moments of inertia.
func perInertia(m *massProperties, v r3.Vec) r3.Vec {
	return r3.Vec{X: float64(v.X * m.perAxial), Y: float64(v.Y * m.perTransverse), Z: float64(v.Z * m.perTransverse)}
}

// addRing starts the ringing of a body's structure. It bends over the body's length.
func (f *Flight) addRing(b *body, s *sim.Pyroshock) {
	if s.Peak <= 0 || s.Ring <= 0 || s.Decay <= 0 {
		return
	}
	omega := 2 * math.Pi * s.Ring
	speed := s.Peak / omega
	bend := speed / (omega * max(b.shape.size, 0.05))
	b.rings = append(b.rings, ring{
		at: f.now, omega: omega, decay: 1 / s.Decay.Seconds(),
		speed: scaled(speed, ringAcross), turned: r3.Vec{Y: float64(bend * ringAcross.Z), Z: float64(bend * ringAcross.Y)},
	})
	b.shockShown = false
}

// progress is the share of a pulse's length that has passed s seconds after t.
func (p *pulse) progress(t sim.Time, s float64) float64 {
	return ((t - p.at).Seconds() + s) / p.length.Seconds()
}

// applyPulses computes the specific force and the angular acceleration of the pulses, s seconds after the step's
// start, in body axes; the rotation must be set.
func (b *body) applyPulses(s float64) {
	var force, moment r3.Vec
	for i := range b.pulses {
		p := &b.pulses[i]
		x := p.progress(b.from, s)
		if x <= 0 || x >= 1 {
			continue
		}
		sin, _ := plain.Sincos(float64(math.Pi * x))
		w := float64(sin * (0.5 * math.Pi / p.length.Seconds()))
		force, moment = plus(force, scaled(w, p.impulse)), plus(moment, scaled(w, p.twist))
	}
	fl := &b.flow
	fl.pulseForce = scaled(fl.perMass, fl.rotation.toBody(force))
	fl.pulseAngular = perInertia(&fl.massProperties, moment)
}

// past is the share of a pulse that lies before t.
func (p *pulse) past(t sim.Time) float64 {
	x := p.progress(t, 0)
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	}
	_, cos := plain.Sincos(float64(math.Pi * x))
	return 0.5 * (1 - cos)
}

// addPast adds what a pulse has done before t.
func addPast(sum *sim.Shock, p *pulse, t sim.Time) {
	share := p.past(t)
	sum.Velocity, sum.Rate = plus(sum.Velocity, scaled(share, p.velocity)), plus(sum.Rate, scaled(share, p.rate))
}

// endPulses removes the pulses and rings that are over at t.
func (b *body) endPulses(t sim.Time) {
	if len(b.pulses) > 0 {
		b.dropPulses(t, pulseOver)
	}
	if len(b.rings) > 0 {
		n := 0
		for i := range b.rings {
			if !b.rings[i].over(t) {
				b.rings[n] = b.rings[i]
				n++
			}
		}
		b.rings = b.rings[:n]
	}
}

func pulseOver(b *body, p *pulse, t sim.Time) bool { return t >= p.at+p.length }

func anyPulse(*body, *pulse, sim.Time) bool { return true }

// ofOtherBody says that a pulse acts on a stage that isn't part of the body.
func ofOtherBody(b *body, p *pulse, _ sim.Time) bool { return p.stage < b.top || p.stage > b.low }

// dropPulses removes pulses from a body and keeps what they have done before t.
func (b *body) dropPulses(t sim.Time, drop func(*body, *pulse, sim.Time) bool) {
	n := 0
	for i := range b.pulses {
		if p := &b.pulses[i]; drop(b, p, t) {
			if pulseOver(b, p, t) {
				b.past = append(b.past, *p)
			} else {
				addPast(&b.felt, p, t)
			}
			continue
		}
		b.pulses[n] = b.pulses[i]
		n++
	}
	b.pulses = b.pulses[:n]
	b.shockShown = false
	n = 0
	for i := range b.past {
		if p := &b.past[i]; t > p.at+p.length+rememberPulses {
			addPast(&b.felt, p, t)
			continue
		}
		b.past[n] = b.past[i]
		n++
	}
	b.past = b.past[:n]
}

// mostOf is the greatest acceleration that a pulse has given any place of the body lately, in m/s2, up to t.
func (b *body) mostOf(p *pulse, t sim.Time) float64 {
	if t <= p.at || t > p.at+p.length+lately {
		return 0
	}
	turn := float64(math.Sqrt(dot(p.rate, p.rate)) * b.shape.size)
	return float64(0.5*math.Pi/p.length.Seconds()) * (math.Sqrt(dot(p.velocity, p.velocity)) + turn)
}

func (r *ring) over(t sim.Time) bool { return (t-r.at).Seconds()*r.decay > ringSilent }

// shocked says that a pulse or a ring is under way.
func (b *body) shocked(t sim.Time) bool {
	for i := range b.rings {
		if !b.rings[i].over(t) {
			return true
		}
	}
	return len(b.pulses) > 0
}

// fillShock fills in what pulses and rings do at t, just after fillState, and what they did before, back to when the last
// of past ended.
func (b *body) fillShock(t sim.Time, out *sim.Shock) {
	*out = b.felt
	for i := range b.past {
		addPast(out, &b.past[i], t)
		out.Most += b.mostOf(&b.past[i], t)
	}
	if len(b.pulses) > 0 && !b.atRest() {
		out.Force, out.Angular = b.flow.pulseForce, b.flow.pulseAngular
	}
	for i := range b.pulses {
		addPast(out, &b.pulses[i], t)
		out.Most += b.mostOf(&b.pulses[i], t)
	}
	for i := range b.rings {
		r := &b.rings[i]
		if t < r.at || r.over(t) {
			continue
		}
		since := (t - r.at).Seconds()
		out.Most += float64(r.omega * float64(math.Sqrt(dot(r.speed, r.speed))*plain.Exp(-float64(r.decay*max(0, since-lately.Seconds())))))
		sin, _ := plain.Sincos(float64(r.omega * since))
		w := float64(sin * plain.Exp(-float64(r.decay*since)))
		out.Velocity, out.Angle = plus(out.Velocity, scaled(w, r.speed)), plus(out.Angle, scaled(w, r.turned))
	}
}

// splitPulses shares the pulses of a body that has become two: each goes on with the body of its stage, and the other
// one keeps what it has done so far. Both ring on.
func splitPulses(whole, upper, lower *body, t sim.Time) {
	lower.felt = whole.felt
	lower.past = append(lower.past[:0], whole.past...)
	lower.pulses, lower.rings = append(lower.pulses[:0], whole.pulses...), append(lower.rings[:0], whole.rings...)
	upper.dropPulses(t, ofOtherBody)
	lower.dropPulses(t, ofOtherBody)
}

// ShockAt gives what short pulses had done to the body of a stage at a time up to a second ago. Force, Angular and Most
// are not those of then.
func (f *Flight) ShockAt(stage int, t sim.Time) (s sim.Shock) {
	f.bodyOf(stage).fillShock(t, &s)
	return s
}

// Shocks gives what short pulses do to the body of each stage at the present. It is the same slice for the whole flight,
// and States brings it up to date.
func (f *Flight) Shocks() []sim.Shock {
	f.updateStates()
	return f.shocks
}

// updateShock brings the shocks of a body's stages up to date.
func (f *Flight) updateShock(b *body) {
	first := &f.shocks[b.top]
	changes := first.Changes
	b.fillShock(f.now, first)
	first.Changes = changes + 1
	for k := b.top + 1; k <= b.low; k++ {
		f.shocks[k] = *first
	}
	b.shockShown = !b.shocked(f.now)
}
