package sensor

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
)

// lag is a first-order system: y' = (x - y) / tau. Between samples the input is a straight line; for that the
// output is exact at any period. The zero lag has no delay.
type lag struct {
	decay, ramp float64
	x, y        float64
	on, started bool
}

// newLag takes tau and the period of the samples in s.
func newLag(tau, period float64) lag {
	if !(tau > 0) || !(period > 0) {
		return lag{}
	}
	e := plain.Decay(period, tau)
	return lag{decay: e, ramp: float64(tau/period) * (1 - e), on: true}
}

// lowPass is a lag with the given cut-off frequency in Hz, where the output has half the power of the input.
func lowPass(hz, period float64) lag {
	if !(hz > 0) {
		return lag{}
	}
	return newLag(1/float64(2*math.Pi*hz), period)
}

// next takes the next sample. The first one counts as constant before.
func (l *lag) next(x float64) float64 {
	if !l.on {
		return x
	}
	if !l.started {
		l.x, l.y, l.started = x, x, true
	}
	l.y = x + float64(l.decay*(l.y-l.x)) - float64(l.ramp*(x-l.x))
	l.x = x
	return l.y
}

// gaussMarkov is a first-order Gauss-Markov process, sampled: x(k+1) = phi x(k) + sigma sqrt(1 - phi^2) w.
// It is in its steady state from the first sample. Source: Gelb (ed.), Applied Optimal Estimation, MIT
// Press 1974, 3.8 (from memory). The zero process is always 0.
type gaussMarkov struct {
	phi, step float64
	sigma     float64
	x         float64
	started   bool
	random    *noise.Stream
}

// newGaussMarkov takes the period of the samples in s.
func newGaussMarkov(w sim.GaussMarkov, period float64, random *noise.Stream) gaussMarkov {
	if !(w.Sigma > 0) || !(w.Time > 0) {
		return gaussMarkov{}
	}
	phi := plain.Decay(period, w.Time)
	return gaussMarkov{phi: phi, step: float64(w.Sigma * math.Sqrt(1-float64(phi*phi))), sigma: w.Sigma, random: random}
}

func (w *gaussMarkov) next() float64 {
	if w.random == nil {
		return 0
	}
	if !w.started {
		w.x, w.started = float64(w.sigma*w.random.Normal()), true
		return w.x
	}
	w.x = float64(w.phi*w.x) + float64(w.step*w.random.Normal())
	return w.x
}
