package sensor

import (
	"drystage/sim"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// tracker is the filter inside a receiver. It expects a constant acceleration, so it overshoots when the motor burns
// out. It is the fading-memory filter of second degree, with three equal real poles and the gains g = 1 - theta^3,
// h = 1.5 (1 - theta^2)(1 - theta), k = (1 - theta)^3/2, where theta = exp(-T/tau) (Brookner, Tracking and Kalman
// Filtering Made Easy, 1998, from memory). While the fix is lost it goes on at the last velocity.
type tracker struct {
	on                               bool
	g, h, k, period                  float64
	position, velocity, acceleration r3.Vec
	started                          bool
}

func newTracker(tau, period float64) tracker {
	t := tracker{period: period}
	if tau > 0 {
		theta := plain.Decay(period, tau)
		rest := 1 - theta
		t.on, t.g, t.h, t.k = true, 1-float64(theta*float64(theta*theta)), float64(1.5*(1-float64(theta*theta))*rest), float64(0.5*float64(rest*rest)*rest)
	}
	return t
}

// next goes on to the next fix, by a period. Without a fix, position and velocity are not used; fresh says that it is
// the first after none.
func (t *tracker) next(position, velocity r3.Vec, fix, fresh bool) (r3.Vec, r3.Vec) {
	switch {
	case !fix && t.started:
		t.acceleration = r3.Vec{}
		t.position = r3.Add(t.position, r3.Scale(t.period, t.velocity))
	case !t.on || !t.started || fresh:
		t.position, t.velocity, t.acceleration, t.started = position, velocity, r3.Vec{}, true
	default:
		mean := r3.Add(t.velocity, r3.Scale(float64(0.5*t.period), t.acceleration))
		expected := r3.Add(t.position, r3.Scale(t.period, mean))
		off := r3.Sub(position, expected)
		t.position = r3.Add(expected, r3.Scale(t.g, off))
		t.velocity = r3.Add(r3.Add(t.velocity, r3.Scale(t.period, t.acceleration)), r3.Scale(t.h/t.period, off))
		t.acceleration = r3.Add(t.acceleration, r3.Scale(float64(2*t.k)/float64(t.period*t.period), off))
	}
	return t.position, t.velocity
}

// tracks says that a receiver has a filter, or goes on without a fix.
func tracks(p *sim.Receiver) bool { return p.Filter > 0 || p.Coast > 0 }
