package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
)

// motion is a quantity with its first and second derivative by time.
type motion struct{ x, v, a float64 }

func (m motion) plus(n motion) motion { return motion{m.x + n.x, m.v + n.v, m.a + n.a} }

func (m motion) scaled(f float64) motion {
	return motion{float64(f * m.x), float64(f * m.v), float64(f * m.a)}
}

// times is the product of two motions.
func (m motion) times(n motion) motion {
	return motion{
		x: float64(m.x * n.x),
		v: float64(m.v*n.x) + float64(m.x*n.v),
		a: float64(m.a*n.x) + float64(2*float64(m.v*n.v)) + float64(m.x*n.a),
	}
}

// smoothMotion goes from 0 at a time to 1 at a later one, with speed and acceleration 0 at both ends: the minimum-jerk
// motion of a hand, 10x^3 - 15x^4 + 6x^5 (Flash and Hogan, J. Neurosci. 5, 1985, from memory).
func smoothMotion(t, from, until sim.Time) motion {
	switch {
	case t <= from:
		return motion{}
	case t >= until:
		return motion{x: 1}
	}
	span := (until - from).Seconds()
	x := (t - from).Seconds() / span
	x2 := float64(x * x)
	return motion{
		x: float64(float64(x2*x) * (10 - float64(x*(15-float64(6*x))))),
		v: float64(float64(30*x2)*(1-float64(x*(2-x)))) / span,
		a: float64(float64(60*x)*(1-float64(x*(3-float64(2*x))))) / float64(span*span),
	}
}

// toneCount is the number of tones of a random oscillation.
const toneCount = 2

// tones is a random oscillation about 0 as a sum of sine waves of equal size, with phases and, within a band,
// frequencies drawn once (Shinozuka and Deodatis, Appl. Mech. Rev. 44, 1991: simulation by spectral representation). It
// is a function of time alone, so it doesn't depend on when it is asked for.
type tones struct {
	size         float64
	omega, phase [toneCount]float64 // rad/s, turns
}

// newTones gives tones of standard deviation sigma about the angular frequency omega in rad/s, within a share of it.
func newTones(sigma, omega, share float64, random *noise.Stream) (o tones) {
	o.size = float64(sigma * math.Sqrt(2.0/toneCount))
	for i := range o.omega {
		// one in each half of the band, so that they beat
		o.omega[i] = float64(omega * (1 + float64(share*(float64(2*(float64(i)+random.Uniform())/toneCount)-1))))
		o.phase[i] = random.Uniform()
	}
	return o
}

// at gives the oscillation after some seconds.
func (o *tones) at(seconds float64) (m motion) {
	for i := range o.omega {
		w := o.omega[i]
		sin, cos := plain.SincosTurns(float64(float64(w*seconds)*(0.5/math.Pi)) + o.phase[i])
		x := float64(o.size * sin)
		m.x += x
		m.v += float64(o.size * float64(w*cos))
		m.a -= float64(float64(w*w) * x)
	}
	return m
}
