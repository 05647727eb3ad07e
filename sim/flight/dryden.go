package flight

import (
	"math"

	"drystage/sim/noise"
	"drystage/sim/plain"
)

// Dryden's spectra (MIL-F-8785C 3.7.2.2) as filters of white noise over distance, in units of the scale length.
// Both are discretised exactly: after a step of any length the states have the covariance of the continuous
// filter, so the spectrum doesn't depend on the step. Their output has variance 1.

// firstOrder is the longitudinal form, 1/(1 + s): autocorrelation exp(-x).
type firstOrder struct {
	random               *noise.Stream
	x                    float64
	dx, decay, noiseGain float64 // of the last step
}

func newFirstOrder(random *noise.Stream) firstOrder {
	return firstOrder{random: random, x: random.Normal()}
}

// step advances by dx scale lengths.
func (f *firstOrder) step(dx float64) {
	if dx != f.dx {
		f.dx, f.decay = dx, plain.Exp(-dx)
		f.noiseGain = math.Sqrt(1 - float64(f.decay*f.decay))
	}
	f.x = float64(f.decay*f.x) + float64(f.noiseGain*f.random.Normal())
}

func (f *firstOrder) value() float64 { return f.x }

// secondOrder is the lateral and vertical form, (1 + sqrt(3) s)/(1 + s)^2: autocorrelation
// (1 - x/2) exp(-x). Its states are x1' = x2 and x2' = -x1 - 2 x2 + 2 n with white noise n. In the steady state
// both have variance 1 and no covariance; the output is (x1 + sqrt(3) x2)/2.
type secondOrder struct {
	random *noise.Stream
	x      [2]float64
	dx     float64 // of the last step
	last   transition
}

func newSecondOrder(random *noise.Stream) secondOrder {
	return secondOrder{random: random, x: [2]float64{random.Normal(), random.Normal()}}
}

// step advances by dx scale lengths.
func (f *secondOrder) step(dx float64) {
	if dx != f.dx {
		f.dx, f.last = dx, newTransition(dx)
	}
	t := &f.last
	a, b := f.random.Normal(), f.random.Normal()
	x, y := f.x[0], f.x[1]
	f.x[0] = float64(t.decay[0]*x) + float64(t.decay[1]*y) + float64(t.noiseGain[0]*a)
	f.x[1] = float64(t.decay[2]*x) + float64(t.decay[3]*y) + float64(t.noiseGain[1]*a) + float64(t.noiseGain[2]*b)
}

func (f *secondOrder) value() float64 {
	return float64(0.5*f.x[0]) + float64(0.5*math.Sqrt(3)*f.x[1])
}

// transition is a step of the second-order filter: the transition matrix by rows, and the Cholesky factor of
// the covariance of the added noise.
type transition struct {
	decay     [4]float64
	noiseGain [3]float64 // 11, 21, 22
}

func newTransition(dx float64) transition {
	e, sq := plain.Exp(-dx), float64(dx*dx)
	e2 := float64(e * e)
	t := transition{decay: [4]float64{float64(e * (1 + dx)), float64(e * dx), -float64(e * dx), float64(e * (1 - dx))}}
	// I minus decay times its transpose.
	q11 := 1 - float64(e2*(1+float64(2*dx)+float64(2*sq)))
	q12 := float64(2 * sq * e2)
	q22 := 1 - float64(e2*(1-float64(2*dx)+float64(2*sq)))
	if q11 > 0 { // else the step is too short to add noise
		t.noiseGain[0] = math.Sqrt(q11)
		t.noiseGain[1] = q12 / t.noiseGain[0]
	}
	t.noiseGain[2] = math.Sqrt(max(0, q22-float64(t.noiseGain[1]*t.noiseGain[1])))
	return t
}
