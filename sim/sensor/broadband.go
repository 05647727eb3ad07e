package sensor

import (
	"math"

	"drystage/sim/noise"
	"drystage/sim/plain"
)

// broadband is a first-order process x of variance 1 and the same behind a low-pass. Both together are a linear system
// driven by white noise, whose values at the samples are drawn exactly: their covariances are those of the continuous
// processes (Gelb (ed.), Applied Optimal Estimation, MIT Press 1974, 3.7 and 3.8, from memory).
type broadband struct {
	x, filtered float64
	decay       float64 // of x over a sample
	from, keep  float64 // shares of x and of filtered in the next filtered
	a, b, c     float64 // of two normal numbers: a in x, b and c in filtered
	covariance  float64 // of x and filtered, which is the variance of filtered too
	low         lag     // for steps
	stepDecay   float64
	stepNoise   float64
	direct      bool // there is no low-pass
}

func newBroadband(band, bandwidth, period float64, steps int) broadband {
	tau, t := 1/float64(2*math.Pi*band), 1/float64(2*math.Pi*bandwidth)
	if math.Abs(t-tau) < 1e-6*tau { // a double pole, where the formula is 0/0
		tau = float64(tau * (1 + 1e-6))
	}
	d := plain.Decay(period, tau)
	n := broadband{decay: d, a: math.Sqrt(1 - float64(d*d)), direct: !(bandwidth > 0), covariance: 1}
	n.stepDecay = plain.Decay(period/float64(steps), tau)
	n.stepNoise = math.Sqrt(1 - float64(n.stepDecay*n.stepDecay))
	if n.direct {
		return n
	}
	n.low = newLag(t, period/float64(steps))
	v := tau / (tau + t)
	n.covariance = v
	n.keep = plain.Decay(period, t)
	n.from = float64(tau / (tau - t) * (d - n.keep))
	cross := v - float64(d*(n.from+float64(n.keep*v)))
	rest := v - float64(n.from*n.from) - float64(2*n.from*float64(n.keep*v)) - float64(float64(n.keep*n.keep)*v)
	n.b = cross / n.a
	n.c = math.Sqrt(max(rest-float64(n.b*n.b), 0))
	return n
}

// begin draws a state of the steady process.
func (n *broadband) begin(random *noise.Stream) {
	n.x = random.Normal()
	n.filtered = n.x
	if !n.direct {
		v := n.covariance
		n.filtered = float64(v*n.x) + float64(math.Sqrt(v-float64(v*v))*random.Normal())
	}
}

// advance goes on by one sample.
func (n *broadband) advance(random *noise.Stream) {
	first := random.Normal()
	x := float64(n.decay*n.x) + float64(n.a*first)
	if n.direct {
		n.filtered = x
	} else {
		n.filtered = float64(n.from*n.x) + float64(n.keep*n.filtered) + float64(n.b*first) + float64(n.c*random.Normal())
	}
	n.x = x
}

// advanceStep goes on by one step.
func (n *broadband) advanceStep(random *noise.Stream) {
	n.low.x, n.low.y, n.low.started = n.x, n.filtered, true
	n.x = float64(n.stepDecay*n.x) + float64(n.stepNoise*random.Normal())
	n.filtered = n.low.next(n.x)
}
