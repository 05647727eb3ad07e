package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"

	"gonum.org/v1/gonum/num/quat"
)

// intervalLength is about how long the intervals are into which a step below a canopy is divided. Within one the state of
// each tick is on a straight line between those at its ends, so positions, speeds and accelerations of a motion at the
// frequency w agree to a share of (w h)^2/8: 2 % at 1 Hz, 8 % at 2 Hz, which is the fastest shake.
const intervalLength = 65 * sim.Millisecond

// interval is a part of a body's step with the states at its ends.
type interval struct {
	stepFrom, stepTo sim.Time
	from, to         sim.Time
	perNanosecond    float64
	a, b             intervalEnd
}

// intervalEnd is a state with what its airspeed, Mach number and dynamic pressure follow from.
type intervalEnd struct {
	sim.State
	slowness, density float64 // s/m, kg/m3
}

// covers says that a time is in the interval, and the interval in the body's present step.
func (p *interval) covers(b *body, t sim.Time) bool {
	return p.stepFrom == b.from && p.stepTo == b.to && t >= p.from && t <= p.to
}

// next goes to the interval with the present. Short steps have none.
func (p *interval) next(f *Flight, b *body, w *swing) bool {
	span := b.to - b.from
	if span < 2*intervalLength || len(b.burns) > 0 {
		p.from = sim.Never
		return false
	}
	n := (span + intervalLength - 1) / intervalLength
	i := min((f.now-b.from)*n/span, n-1)
	from, to := b.from+span*i/n, b.from+span*(i+1)/n
	if p.stepFrom == b.from && p.stepTo == b.to && p.to == from {
		p.a = p.b
	} else {
		p.a.take(b, w, from)
	}
	p.b.take(b, w, to)
	if q, r := &p.a.Attitude, &p.b.Attitude; float64(q.Real*r.Real)+float64(q.Imag*r.Imag)+float64(q.Jmag*r.Jmag)+float64(q.Kmag*r.Kmag) < 0 {
		*r = quat.Number{Real: -r.Real, Imag: -r.Imag, Jmag: -r.Jmag, Kmag: -r.Kmag} // the same attitude
	}
	p.stepFrom, p.stepTo, p.from, p.to = b.from, b.to, from, to
	p.perNanosecond = 1 / float64(to-from)
	return true
}

// take takes the state at a time of the step.
func (e *intervalEnd) take(b *body, w *swing, t sim.Time) {
	b.fillLeaning(b.fraction(t), w.lean(t), &e.State)
	e.density, e.slowness = b.flow.density, float64(cubic(&b.flow.cell.slowness, b.flow.cellFraction))
}

// fill fills in all but Front of the state at a time of the interval.
func (p *interval) fill(t sim.Time, st *sim.State) {
	x := float64(float64(t-p.from) * p.perNanosecond)
	a, b := &p.a, &p.b
	mix := func(a, b float64) float64 { return a + float64(x*(b-a)) }
	vec := func(a, b *r3.Vec) r3.Vec { return r3.Vec{X: mix(a.X, b.X), Y: mix(a.Y, b.Y), Z: mix(a.Z, b.Z)} }
	st.Position, st.Velocity = vec(&a.Position, &b.Position), vec(&a.Velocity, &b.Velocity)
	q := &st.Attitude
	q.Real, q.Imag = mix(a.Attitude.Real, b.Attitude.Real), mix(a.Attitude.Imag, b.Attitude.Imag)
	q.Jmag, q.Kmag = mix(a.Attitude.Jmag, b.Attitude.Jmag), mix(a.Attitude.Kmag, b.Attitude.Kmag)
	st.Rates, st.Force, st.Angular = vec(&a.Rates, &b.Rates), vec(&a.Force, &b.Force), vec(&a.Angular, &b.Angular)
	st.Mass, st.CG, st.Thrust, st.Landed, st.OnPad = a.Mass, a.CG, a.Thrust, false, false
	st.Pressure, st.Ambient = mix(a.Pressure, b.Pressure), mix(a.Ambient, b.Ambient)
	st.Air = vec(&a.Air, &b.Air)
	st.Airspeed = math.Sqrt(dot(st.Air, st.Air))
	st.Mach = float64(st.Airspeed * mix(a.slowness, b.slowness))
	st.Dynamic = float64(float64(0.5*mix(a.density, b.density)) * float64(st.Airspeed*st.Airspeed))
}
