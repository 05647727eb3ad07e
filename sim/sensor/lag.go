package sensor

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
)

// lag follows what goes in as a first-order system does: y' = (x - y) / tau. Between samples it takes
// x to run in a straight line, for which it is exact whatever the period. The zero lag follows at once.
type lag struct {
	decay, ramp float64
	x, y        float64
	on, begun   bool
}

// newLag takes tau and the period of the samples in s.
func newLag(tau, period float64) lag {
	if !(tau > 0) || !(period > 0) {
		return lag{}
	}
	e := plain.Decay(period, tau)
	return lag{decay: e, ramp: float64(tau/period) * (1 - e), on: true}
}

// lowPass is a lag whose answer to a sine of the given frequency in Hz has half the power.
func lowPass(hz, period float64) lag {
	if !(hz > 0) {
		return lag{}
	}
	return newLag(1/float64(2*math.Pi*hz), period)
}

// next takes the next sample; the first one is taken to have been there for ever.
func (l *lag) next(x float64) float64 {
	if !l.on {
		return x
	}
	if !l.begun {
		l.x, l.y, l.begun = x, x, true
	}
	l.y = x + float64(l.decay*(l.y-l.x)) - float64(l.ramp*(x-l.x))
	l.x = x
	return l.y
}

// wander is a first-order Gauss-Markov process, sampled: x(k+1) = phi x(k) + sigma sqrt(1 - phi^2) w.
// It is in its steady state from the first sample. Source: Gelb (ed.), Applied Optimal Estimation, MIT
// Press 1974, 3.8 (from memory). The zero wander stands at 0.
type wander struct {
	phi, step float64
	sigma     float64
	x         float64
	begun     bool
	chance    *noise.Stream
}

// newWander takes the period of the samples in s.
func newWander(w sim.Wander, period float64, chance *noise.Stream) wander {
	if !(w.Sigma > 0) || !(w.Time > 0) {
		return wander{}
	}
	phi := plain.Decay(period, w.Time)
	return wander{phi: phi, step: float64(w.Sigma * math.Sqrt(1-float64(phi*phi))), sigma: w.Sigma, chance: chance}
}

func (w *wander) next() float64 {
	if w.chance == nil {
		return 0
	}
	if !w.begun {
		w.x, w.begun = float64(w.sigma*w.chance.Normal()), true
		return w.x
	}
	w.x = float64(w.phi*w.x) + float64(w.step*w.chance.Normal())
	return w.x
}
