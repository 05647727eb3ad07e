package sensor

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/sim"
)

// lock is whether a receiver has a fix. It has none before its cold start is over, and loses it above
// its limits of force, speed and height, of which any one is enough. When all are met again it needs
// its warm start; the first second of a new fix is in two dimensions (common practice, no source).
type lock struct {
	cold, warm          sim.Time
	force, speed, level float64 // squared, squared, above the pad; +Inf: no limit
	lost                bool
	clear               sim.Time // since when nothing is in the way
	since               sim.Time // of the fix
	always              bool
}

func newLock(p *sim.Receiver, elevation float64) lock {
	limit := func(x float64) float64 {
		if x > 0 {
			return x
		}
		return math.Inf(1)
	}
	l := lock{cold: sim.Seconds(p.ColdStart), warm: sim.Seconds(p.WarmStart), force: limit(p.MostForce * p.MostForce),
		speed: limit(p.MostSpeed * p.MostSpeed), level: limit(p.MostHeight) - elevation}
	l.always = l.cold == 0 && p.MostForce <= 0 && p.MostSpeed <= 0 && p.MostHeight <= 0
	l.since, l.clear = l.cold, sim.Never
	return l
}

// kind takes what the receiver goes through at an instant and gives its fix.
func (l *lock) kind(s *scene) sim.FixKind {
	if l.always {
		return sim.Fix3D
	}
	st := s.st
	if dot(&st.Force, &st.Force) > l.force || dot(&st.Velocity, &st.Velocity) > l.speed || st.Position.Z > l.level {
		l.lost, l.clear = true, sim.Never
		return sim.NoFix
	}
	if l.lost {
		l.clear = min(l.clear, s.now)
		if s.now < l.clear+l.warm {
			return sim.NoFix
		}
		l.lost, l.since = false, max(s.now, l.cold)
	}
	const flat = sim.Second
	switch {
	case s.now < l.cold:
		return sim.NoFix
	case l.since > 0 && s.now < l.since+flat:
		return sim.Fix2D
	}
	return sim.Fix3D
}

// history is where a receiver was, as far back as its latency goes.
type history struct {
	latency sim.Time
	past    []moment // a ring; nil without latency
	n       int      // moments ever kept
}

type moment struct {
	at                 sim.Time
	position, velocity r3.Vec
}

// newHistory keeps enough moments that are a period in s apart.
func newHistory(latency, period float64) history {
	h := history{latency: sim.Seconds(latency)}
	if h.latency > 0 {
		h.past = make([]moment, int(latency/period)+3)
	}
	return h
}

// add takes the state of an instant and gives position and velocity as they were the latency before:
// the cubic through both ends' places and velocities (Hermite), and the straight line between the
// velocities. Before the run they were as at its start.
func (h *history) add(now sim.Time, st *sim.State) (position, velocity r3.Vec) {
	if h.past == nil {
		return st.Position, st.Velocity
	}
	h.past[h.n%len(h.past)] = moment{now, st.Position, st.Velocity}
	h.n++
	then := now - h.latency
	b := &h.past[(h.n-1)%len(h.past)]
	for k := h.n - 2; k >= 0 && k > h.n-1-len(h.past); k-- {
		a := &h.past[k%len(h.past)]
		if a.at <= then {
			return between(a, b, then)
		}
		b = a
	}
	return b.position, b.velocity
}

func between(a, b *moment, t sim.Time) (position, velocity r3.Vec) {
	span := (b.at - a.at).Seconds()
	u := (t - a.at).Seconds() / span
	w := 1 - u
	pa, pb := float64(w*w)*(1+float64(2*u)), float64(u*u)*(3-float64(2*u))
	va, vb := float64(u*float64(w*w))*span, -float64(float64(u*u)*w)*span
	mix := func(p, q, v, x float64) float64 {
		return float64(pa*p) + float64(pb*q) + float64(va*v) + float64(vb*x)
	}
	line := func(v, x float64) float64 { return float64(w*v) + float64(u*x) }
	position = r3.Vec{
		X: mix(a.position.X, b.position.X, a.velocity.X, b.velocity.X),
		Y: mix(a.position.Y, b.position.Y, a.velocity.Y, b.velocity.Y),
		Z: mix(a.position.Z, b.position.Z, a.velocity.Z, b.velocity.Z),
	}
	return position, r3.Vec{X: line(a.velocity.X, b.velocity.X), Y: line(a.velocity.Y, b.velocity.Y), Z: line(a.velocity.Z, b.velocity.Z)}
}
