package sensor

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// lock is the fix state of a receiver. It has no fix before the end of its cold start, and loses it above any one
// of its limits of force, speed and height. When it is within all limits again, it needs its warm start and a random time.
// A new fix has two dimensions at first, and holds the height.
type lock struct {
	coldStart, warmStart sim.Time
	force, speed, height float64 // squared, squared, above the pad; +Inf: no limit
	lost                 bool
	clearSince           sim.Time // since when it is within all limits
	fixSince             sim.Time // of the fix
	always               bool
	hold                 sim.Time // of two dimensions
	coast                sim.Time
	lostAt               sim.Time      // of the last loss
	reacquire            float64       // s
	random               *noise.Stream // of the time until a lost fix is back
	more                 sim.Time      // that time, for the present loss
	fresh, none          bool          // the fix is the first after none; there is none
	had                  bool          // there was one before the last loss
}

func newLock(p *sim.Receiver, elevation float64, wait sim.Time, random *noise.Stream) lock {
	limit := func(x float64) float64 {
		if x > 0 {
			return x
		}
		return math.Inf(1)
	}
	l := lock{coldStart: max(0, sim.Seconds(p.ColdStart)-wait), warmStart: sim.Seconds(p.WarmStart), force: limit(p.MostForce * p.MostForce),
		speed: limit(p.MostSpeed * p.MostSpeed), height: limit(p.MostHeight) - elevation}
	l.always = l.coldStart == 0 && p.MostForce <= 0 && p.MostSpeed <= 0 && p.MostHeight <= 0
	l.fixSince, l.clearSince = l.coldStart, sim.Never
	l.hold, l.coast, l.reacquire, l.random = sim.Seconds(p.Hold), sim.Seconds(p.Coast), p.Reacquire, random
	return l
}

// coasts says that a lost fix is still told, from the last velocity.
func (l *lock) coasts(now sim.Time) bool { return l.lost && l.had && now < l.lostAt+l.coast }

// kind gives the kind of the receiver's fix at an instant, and says if it is fresh.
func (l *lock) kind(s *input) sim.FixKind {
	k := l.next(s)
	l.fresh = k != sim.NoFix && l.none
	l.none = k == sim.NoFix
	return k
}

func (l *lock) next(s *input) sim.FixKind {
	if l.always {
		return sim.Fix3D
	}
	st := s.st
	if dot(&st.Force, &st.Force) > l.force || dot(&st.Velocity, &st.Velocity) > l.speed || st.Position.Z > l.height {
		if !l.lost {
			l.lost, l.lostAt, l.had = true, s.now, !l.none
			l.more = sim.Seconds(-float64(l.reacquire * plain.Log(1-l.random.Uniform())))
		}
		l.clearSince = sim.Never
		return sim.NoFix
	}
	if l.lost {
		l.clearSince = min(l.clearSince, s.now)
		if s.now < l.clearSince+l.warmStart+l.more {
			return sim.NoFix
		}
		l.lost, l.fixSince = false, max(s.now, l.coldStart)
	}
	switch {
	case s.now < l.coldStart:
		return sim.NoFix
	case l.fixSince > 0 && s.now < l.fixSince+l.hold:
		return sim.Fix2D
	}
	return sim.Fix3D
}

// history holds the past states of a receiver, as far back as its latency.
type history struct {
	latency sim.Time
	past    []pastState // a ring; nil without latency
	n       int         // moments ever kept
}

type pastState struct {
	at                 sim.Time
	position, velocity r3.Vec
}

// newHistory makes room for enough states that are period seconds apart.
func newHistory(latency, period float64) history {
	h := history{latency: sim.Seconds(latency)}
	if h.latency > 0 {
		h.past = make([]pastState, int(latency/period)+3)
	}
	return h
}

// add adds the state of an instant and gives position and velocity one latency earlier: the position by a cubic
// through the positions and velocities of the two states around (Hermite), the velocity by linear interpolation.
// Before the run they are as at its start.
func (h *history) add(now sim.Time, st *sim.State) (position, velocity r3.Vec) {
	if h.past == nil {
		return st.Position, st.Velocity
	}
	h.past[h.n%len(h.past)] = pastState{now, st.Position, st.Velocity}
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

func between(a, b *pastState, t sim.Time) (position, velocity r3.Vec) {
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
