package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"
)

// A State needs the specific force and the angular acceleration, which the state vector doesn't hold. Between the ends
// of a step they are polynomials of fourth order through whole evaluations of the derivative at the quarters of the
// step. Where their fourth difference says that they may be wrong by more than forceDifference or angularDifference, because the
// wind has a kink there, each State takes an evaluation of its own, as it does in short steps.
const (
	quarters           = 4
	minPolynomialSpan  = 0.04 // s: below, the evaluations at the quarters are more than those that they save
	forceDifference    = 1e-3 // m/s2, of fourth order
	angularDifference  = 1e-2 // rad/s2
	accelerationValues = 6
)

// accelerations are the specific force (m/s2) and the angular acceleration (rad/s2) of a body, body axes.
type accelerations [accelerationValues]float64

// accelerationCurve is how they change in a step.
type accelerationCurve struct {
	tried, valid bool
	powers       [quarters + 1]accelerations // coefficients of the powers of the time in quarters of the step
}

// at fills in the accelerations at a fraction of the step.
func (c *accelerationCurve) at(x float64, st *sim.State) {
	t := quarters * x
	t2 := float64(t * t)
	st.Force = r3.Vec{X: c.one(0, t, t2), Y: c.one(1, t, t2), Z: c.one(2, t, t2)}
	st.Angular = r3.Vec{X: c.one(3, t, t2), Y: c.one(4, t, t2), Z: c.one(5, t, t2)}
}

// one gives one of the accelerations at a time in quarters of the step and its square.
func (c *accelerationCurve) one(i int, t, t2 float64) float64 {
	p := &c.powers
	return (p[0][i] + float64(t*p[1][i])) + float64(t2*((p[2][i]+float64(t*p[3][i]))+float64(t2*p[4][i])))
}

// fit lays the curve through the accelerations at the quarters, by Newton's forward differences.
func (c *accelerationCurve) fit(at *[quarters + 1]accelerations) {
	c.valid = true
	for i := range at[0] {
		f0, f1, f2, f3, f4 := at[0][i], at[1][i], at[2][i], at[3][i], at[4][i]
		d1, d2 := f1-f0, (f2-f1)-(f1-f0)
		d3 := ((f3 - f2) - (f2 - f1)) - d2
		d4 := (((f4 - f3) - (f3 - f2)) - ((f3 - f2) - (f2 - f1))) - d3
		limit := forceDifference
		if i >= accelerationValues/2 {
			limit = angularDifference
		}
		c.valid = c.valid && math.Abs(d4) <= limit
		p := &c.powers
		p[0][i] = f0
		p[1][i] = d1 - float64(d2*(1.0/2)) + float64(d3*(1.0/3)) - float64(d4*(1.0/4))
		p[2][i] = float64(d2*(1.0/2)) - float64(d3*(1.0/2)) + float64(d4*(11.0/24))
		p[3][i] = float64(d3*(1.0/6)) - float64(d4*(1.0/4))
		p[4][i] = float64(d4 * (1.0 / 24))
	}
}

// smoothAcceleration says that the curve of the present step can be used, and computes it when it is first asked for.
func (b *body) smoothAcceleration() bool {
	c := &b.acceleration
	if c.tried {
		return c.valid
	}
	c.tried, c.valid = true, false
	if b.mode != free || b.span < minPolynomialSpan || len(b.pathTurns)+len(b.pulses) > 0 {
		return false
	}
	var at [quarters + 1]accelerations
	at[0], at[quarters] = accelerationsOf(&b.forceAt[0], &b.k), accelerationsOf(&b.forceAt[1], &b.endDerivative)
	for i := 1; i < quarters; i++ {
		var y, k vector
		x := float64(i) / quarters
		b.interpolate(x, &y)
		b.derivative(b.secondsAt(x), &y, &k)
		at[i] = accelerationsOf(&b.flow.force, &k)
	}
	c.fit(&at)
	return c.valid
}

func accelerationsOf(force *r3.Vec, k *vector) accelerations {
	return accelerations{force.X, force.Y, force.Z, k[atRates], k[atRates+1], k[atRates+2]}
}
