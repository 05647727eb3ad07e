package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"
)

// The pair of orders 5 and 4 by Dormand and Prince (J. Comp. Appl. Math. 6, 1980, 19-26, table 2),
// with the fourth-order interpolant of Hairer, Norsett and Wanner, Solving Ordinary Differential
// Equations I, II.6. The stage times are 1/5, 3/10, 4/5, 8/9, 1, 1; the last derivative of a step is the first
// of the next.
const (
	a21                      = 1.0 / 5
	a31, a32                 = 3.0 / 40, 9.0 / 40
	a41, a42, a43            = 44.0 / 45, -56.0 / 15, 32.0 / 9
	a51, a52, a53, a54       = 19372.0 / 6561, -25360.0 / 2187, 64448.0 / 6561, -212.0 / 729
	a61, a62, a63, a64, a65  = 9017.0 / 3168, -355.0 / 33, 46732.0 / 5247, 49.0 / 176, -5103.0 / 18656
	b1, b3, b4, b5, b6       = 35.0 / 384, 500.0 / 1113, 125.0 / 192, -2187.0 / 6784, 11.0 / 84
	e1, e3, e4, e5, e6, e7   = 71.0 / 57600, -71.0 / 16695, 71.0 / 1920, -17253.0 / 339200, 22.0 / 525, -1.0 / 40
	dense1, dense3, dense4   = -12715105075.0 / 11282082432, 87487479700.0 / 32700410799, -10690763975.0 / 1880347072
	dense5, dense6, dense7   = 701980252875.0 / 199316789632, -1453857185.0 / 822651844, 69997945.0 / 29380423
	maxStep                  = 0.25 // s
	maxCanopyStep            = 0.5  // s, below full canopies, where nothing rises and falls again
	minStep                  = 10 * sim.Microsecond
	fineSteps                = 200_000 // after so many, the shortest step is a hundred times longer
	tolerance                = 1e-8    // relative, of each component
	lengthScale, speedScale  = 50, 50  // m, m/s: smaller components have the absolute tolerance of this size
	attitudeScale, rateScale = 1, 200  // -, rad/s
)

// scales are the sizes below which a component's error is measured against this size.
var scales = vector{lengthScale, lengthScale, lengthScale, speedScale, speedScale, speedScale,
	attitudeScale, attitudeScale, attitudeScale, attitudeScale, rateScale, rateScale, rateScale}

// advance takes one step that ends at or before the limit.
func (b *body) advance(limit sim.Time) {
	if b.restarted = !b.derivativeValid; b.restarted {
		b.derivative(0, &b.y, &b.k)
		b.derivativeValid = true
		b.solver.Evaluations++
		b.softeningAt[1], b.forceAt[1] = b.flow.softening, b.flow.force
	}
	b.softeningAt[0], b.forceAt[0] = b.softeningAt[1], b.forceAt[1]
	shortest := minStep
	if b.steps++; b.steps > fineSteps {
		shortest *= 100
	}
	for {
		n := max(sim.Time(min(b.trySpan, b.stepLimit())*1e9), shortest)
		switch room := limit - b.from; {
		case n >= room:
			n = room
		case 2*n > room:
			n = (room + 1) / 2
		}
		b.to, b.span = b.from+n, n.Seconds()
		err := b.tryStep(b.span)
		b.solver.Evaluations += 6
		if err <= 1 {
			b.solver.Steps++
			b.softeningAt[1], b.forceAt[1] = b.flow.softening, b.flow.force
			b.trySpan = b.span * min(5, 0.9/max(powThreeSixteenths(err), 1e-3))
			return
		}
		if n <= shortest {
			b.solver.Forced++
			if !(err < worstError) { // NaN too
				err = worstError
			}
			b.forcedError = max(b.forcedError, err)
			b.forceStep()
			b.softeningAt[1], b.forceAt[1] = b.flow.softening, b.flow.force
			return
		}
		b.solver.Rejected++
		shrink := 0.1
		if err < 1e6 { // and not NaN
			shrink = max(0.1, 0.9/powThreeSixteenths(err))
		}
		b.trySpan = b.span * shrink
	}
}

// stepLimit is the longest step in s that can't skip a gust, a cell of turbulence or a part of a pulse.
func (b *body) stepLimit() float64 {
	most := maxStep
	if len(b.canopies) > 0 && !b.filling() {
		most = maxCanopyStep
	}
	if b.wind.unsteady() {
		most = max(1e-3, min(most, b.wind.changeLength(b.y[2])/(1+math.Abs(b.y[5]))))
	}
	for i := range b.pulses {
		most = min(most, float64(b.pulses[i].length.Seconds()*(1.0/pulseSteps)))
	}
	return most
}

// forceStep accepts the shortest step whatever its error; a body whose state is no longer finite stops
// where it was.
func (b *body) forceStep() {
	b.trySpan = b.span
	finite := true
	for i := range b.end {
		finite = finite && math.Abs(b.end[i]) <= 1e12
	}
	if finite {
		b.end.normalise()
	} else {
		b.end = b.y
		b.end.setVec(atVelocity, r3.Vec{})
		b.end.setVec(atRates, r3.Vec{})
		b.dense = [5]vector{b.y}
	}
	b.derivative(b.span, &b.end, &b.endDerivative)
	b.endAirData = b.flow.airData
	if !finite {
		b.endDerivative = vector{}
	}
}

// tryStep computes a step of h seconds, its interpolant, and its error as a share of what is allowed.
func (b *body) tryStep(h float64) float64 {
	var k2, k3, k4, k5, k6, u vector
	y, k1, k7 := &b.y, &b.k, &b.endDerivative
	for i := atHeight; i < len(u); i++ {
		u[i] = y[i] + float64(h*float64(a21*k1[i]))
	}
	b.derivative(h/5, &u, &k2)
	for i := atHeight; i < len(u); i++ {
		u[i] = y[i] + float64(h*(float64(a31*k1[i])+float64(a32*k2[i])))
	}
	b.derivative(0.3*h, &u, &k3)
	for i := atHeight; i < len(u); i++ {
		u[i] = y[i] + float64(h*(float64(a41*k1[i])+float64(a42*k2[i])+float64(a43*k3[i])))
	}
	b.derivative(0.8*h, &u, &k4)
	for i := atHeight; i < len(u); i++ {
		u[i] = y[i] + float64(h*(float64(a51*k1[i])+float64(a52*k2[i])+float64(a53*k3[i])+float64(a54*k4[i])))
	}
	b.derivative(h*(8.0/9), &u, &k5)
	for i := atHeight; i < len(u); i++ {
		u[i] = y[i] + float64(h*(float64(a61*k1[i])+float64(a62*k2[i])+float64(a63*k3[i])+float64(a64*k4[i])+float64(a65*k5[i])))
	}
	b.derivative(h, &u, &k6)
	end := &b.end
	for i := range end {
		end[i] = y[i] + float64(h*(float64(b1*k1[i])+float64(b3*k3[i])+float64(b4*k4[i])+float64(b5*k5[i])+float64(b6*k6[i])))
	}
	b.derivative(h, end, k7)
	b.endAirData = b.flow.airData
	worst := 0.0
	for i := range end {
		e := h * (float64(e1*k1[i]) + float64(e3*k3[i]) + float64(e4*k4[i]) + float64(e5*k5[i]) + float64(e6*k6[i]) + float64(e7*k7[i]))
		size, e := max(scales[i], math.Abs(y[i])), math.Abs(e)
		if !(e <= float64(worst*size)) && !math.IsNaN(worst) { // NaN counts as worst
			worst = e / size
		}
		d := &b.dense
		rise := end[i] - y[i]
		bend := float64(h*k1[i]) - rise
		d[0][i], d[1][i], d[2][i], d[3][i] = y[i], rise, bend, rise-float64(h*k7[i])-bend
		d[4][i] = h * (float64(dense1*k1[i]) + float64(dense3*k3[i]) + float64(dense4*k4[i]) + float64(dense5*k5[i]) + float64(dense6*k6[i]) + float64(dense7*k7[i]))
	}
	return worst / b.tolerance
}

// vectorAt gives the state vector at an instant of the step.
func (b *body) vectorAt(t sim.Time, y *vector) {
	switch {
	case t <= b.from || b.atRest():
		*y = b.y
	case t >= b.to:
		*y = b.end
	default:
		b.interpolate(b.fraction(t), y)
	}
}

// fraction is the position of an instant in the step, 0 to 1.
func (b *body) fraction(t sim.Time) float64 {
	if b.to <= b.from {
		return 0
	}
	return float64(t-b.from) / float64(b.to-b.from)
}

func (b *body) interpolate(x float64, y *vector) {
	z := 1 - x
	d := &b.dense
	for i := range y {
		y[i] = d[0][i] + float64(x*(d[1][i]+float64(z*(d[2][i]+float64(x*(d[3][i]+float64(z*d[4][i])))))))
	}
}

// interpolateOne interpolates one component.
func (b *body) interpolateOne(x float64, i int) float64 {
	z := 1 - x
	d := &b.dense
	return d[0][i] + float64(x*(d[1][i]+float64(z*(d[2][i]+float64(x*(d[3][i]+float64(z*d[4][i])))))))
}

// powThreeSixteenths gives x to the power 3/16 for x >= 0, by square roots only.
func powThreeSixteenths(x float64) float64 {
	eighth := math.Sqrt(math.Sqrt(math.Sqrt(x)))
	return eighth * math.Sqrt(eighth)
}
