package sensor

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/sim"
	"drystage/sim/noise"
)

// triad is a three-axis accelerometer or gyro.
type triad struct {
	sim.Triad
	chance *noise.Stream
}

func newTriad(p *sim.Triad, chance *noise.Stream) triad {
	t := triad{*p, chance}
	if t.Mounting == ([3]r3.Vec{}) {
		t.Mounting = [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	}
	return t
}

// sample turns a vector in body axes into the part's own and spoils it as the part would.
func (t *triad) sample(body r3.Vec) r3.Vec {
	return r3.Vec{
		X: t.axis(float64(dot(&t.Mounting[0], &body)) + t.Bias.X),
		Y: t.axis(float64(dot(&t.Mounting[1], &body)) + t.Bias.Y),
		Z: t.axis(float64(dot(&t.Mounting[2], &body)) + t.Bias.Z),
	}
}

func (t *triad) axis(x float64) float64 {
	x = steps(noisy(x, t.Noise, t.chance), t.Resolution)
	if t.Range > 0 {
		x = min(max(x, -t.Range), t.Range)
	}
	return x
}

// forceAt gives the specific force at a place on the axis, station metres aft of the stage's front
// end, in m/s2 and body axes: that at the centre of gravity plus Euler and centripetal terms, alpha x r
// + omega x (omega x r) with r on the x axis. That the centre of gravity creeps forward while
// propellant burns is left out.
func forceAt(st *sim.State, station float64) r3.Vec {
	r := st.CG - st.Front - station
	w, a := &st.Rates, &st.Angular
	return r3.Vec{
		X: st.Force.X - float64(r*(float64(w.Y*w.Y)+float64(w.Z*w.Z))),
		Y: st.Force.Y + float64(r*(a.Z+float64(w.X*w.Y))),
		Z: st.Force.Z + float64(r*(float64(w.X*w.Z)-a.Y)),
	}
}

// dot is the scalar product without fused operations.
func dot(a, b *r3.Vec) float64 {
	return float64(a.X*b.X) + float64(a.Y*b.Y) + float64(a.Z*b.Z)
}

// noisy adds normal noise of standard deviation sigma.
func noisy(x, sigma float64, chance *noise.Stream) float64 {
	if sigma <= 0 {
		return x
	}
	return x + float64(sigma*chance.Normal())
}

// steps rounds x to the nearest multiple of step, as a converter does; none if step is 0.
func steps(x, step float64) float64 {
	if step <= 0 {
		return x
	}
	return float64(math.RoundToEven(x/step) * step)
}
