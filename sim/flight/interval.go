package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"

	"gonum.org/v1/gonum/num/quat"
)

// intervalLength is about how long the intervals are into which a step below full canopies is divided. Within one the
// state of each tick is on a straight line between those at its ends, so positions, speeds and accelerations of a motion
// at the frequency w agree to a share of (w h)^2/8: 2 % at 1 Hz, 8 % at 2 Hz, which is the fastest shake. Steps shorter
// than minInterval have none.
const (
	intervalLength = 65 * sim.Millisecond
	minInterval    = 15 * sim.Millisecond
)

// interval is a part of a body's step with the state at its start and the change to that at its end.
type interval struct {
	step          int // of the body
	from, to      sim.Time
	perNanosecond float64
	a, b          intervalEnd
	rise          intervalEnd // from a to b; of it only what changes
}

// intervalEnd is a state with what its airspeed, Mach number and dynamic pressure follow from.
type intervalEnd struct {
	sim.State
	slowness, density float64 // s/m, kg/m3
}

// covers says that a time is in the interval, and the interval in the body's present step.
func (p *interval) covers(b *body, t sim.Time) bool {
	return p.step == b.steps && t >= p.from && t < p.to
}

// next goes to the interval with the present. Short steps, and those in which a canopy fills, have none.
func (p *interval) next(f *Flight, b *body, w *swing) bool {
	span := b.to - b.from
	if span < minInterval || len(b.burns)+len(b.pulses) > 0 || b.filling() {
		p.step, p.to = 0, sim.Never
		return false
	}
	n := (span + intervalLength - 1) / intervalLength
	i := min((f.now-b.from)*n/span, n-1)
	from, to := b.from+span*i/n, b.from+span*(i+1)/n
	if p.to == from && (p.step == b.steps || p.step == b.steps-1 && !b.restarted) {
		p.a = p.b
	} else {
		p.a.take(b, w, from)
	}
	p.b.take(b, w, to)
	p.step, p.from, p.to = b.steps, from, to
	p.perNanosecond = 1 / float64(to-from)
	p.setRise()
	return true
}

// take takes the state at a time of the step. At the ends of the step it is known, and the same for both steps there.
func (e *intervalEnd) take(b *body, w *swing, t sim.Time) {
	var y vector
	x, fl := b.fraction(t), &b.flow
	switch t {
	case b.from:
		y = b.y
		y.normalise()
		y.rotate(&fl.rotation)
		e.Force, e.Angular = b.forceAt[0], b.k.vec(atRates)
	case b.to:
		y = b.end
		y.normalise()
		y.rotate(&fl.rotation)
		e.Force, e.Angular = b.forceAt[1], b.endDerivative.vec(atRates)
	default:
		b.interpolate(x, &y)
		y.normalise()
		if b.to-b.from > quarters*intervalLength && b.smoothAcceleration() {
			y.rotate(&fl.rotation)
			b.acceleration.at(x, &e.State)
		} else { // as few whole evaluations as for a polynomial
			e.Force, e.Angular = b.accelerationsAt(x, &y)
		}
	}
	b.applyLean(x, w.lean(t), &y, &e.State)
	e.density, e.slowness = fl.density, float64(cubic(&fl.cell.slowness, fl.cellFraction))
}

// setRise sets rise from a and b.
func (p *interval) setRise() {
	a, b, r := &p.a, &p.b, &p.rise
	r.Position, r.Velocity = minus(&b.Position, &a.Position), minus(&b.Velocity, &a.Velocity)
	q, s := b.Attitude, &a.Attitude
	if float64(q.Real*s.Real)+float64(q.Imag*s.Imag)+float64(q.Jmag*s.Jmag)+float64(q.Kmag*s.Kmag) < 0 {
		q = quat.Number{Real: -q.Real, Imag: -q.Imag, Jmag: -q.Jmag, Kmag: -q.Kmag} // the same attitude
	}
	r.Attitude = quat.Number{Real: q.Real - s.Real, Imag: q.Imag - s.Imag, Jmag: q.Jmag - s.Jmag, Kmag: q.Kmag - s.Kmag}
	r.Rates, r.Force, r.Angular = minus(&b.Rates, &a.Rates), minus(&b.Force, &a.Force), minus(&b.Angular, &a.Angular)
	r.Pressure, r.Ambient, r.Air = b.Pressure-a.Pressure, b.Ambient-a.Ambient, minus(&b.Air, &a.Air)
	r.slowness, r.density = b.slowness-a.slowness, b.density-a.density
}

func minus(a, b *r3.Vec) r3.Vec { return r3.Vec{X: a.X - b.X, Y: a.Y - b.Y, Z: a.Z - b.Z} }

// along gives the point at a share x of the way from a by a rise.
func along(a, rise *r3.Vec, x float64) r3.Vec {
	return r3.Vec{X: a.X + float64(x*rise.X), Y: a.Y + float64(x*rise.Y), Z: a.Z + float64(x*rise.Z)}
}

// fill fills in all but Front of the state at a time of the interval.
func (p *interval) fill(t sim.Time, st *sim.State) {
	x := float64(float64(t-p.from) * p.perNanosecond)
	a, r := &p.a, &p.rise
	st.Position, st.Velocity = along(&a.Position, &r.Position, x), along(&a.Velocity, &r.Velocity, x)
	q, s := &a.Attitude, &r.Attitude
	st.Attitude = quat.Number{Real: q.Real + float64(x*s.Real), Imag: q.Imag + float64(x*s.Imag),
		Jmag: q.Jmag + float64(x*s.Jmag), Kmag: q.Kmag + float64(x*s.Kmag)}
	st.Rates, st.Force, st.Angular = along(&a.Rates, &r.Rates, x), along(&a.Force, &r.Force, x), along(&a.Angular, &r.Angular, x)
	st.Mass, st.CG, st.Thrust, st.Landed, st.OnPad = a.Mass, a.CG, a.Thrust, false, false
	st.Pressure, st.Ambient = a.Pressure+float64(x*r.Pressure), a.Ambient+float64(x*r.Ambient)
	st.Air = along(&a.Air, &r.Air, x)
	speed2 := dot(st.Air, st.Air)
	st.Airspeed = math.Sqrt(speed2)
	st.Mach = float64(st.Airspeed * (a.slowness + float64(x*r.slowness)))
	st.Dynamic = float64(float64(0.5*(a.density+float64(x*r.density))) * speed2)
}
