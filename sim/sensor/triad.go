package sensor

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/sim"
	"drystage/sim/noise"
)

// triad is a three-axis accelerometer or gyro. The order of its errors is that of the signal's way:
// place and vibration, mounting, scale and cross-axis, white noise, low-pass, then all that is added to
// the bias, noise of the sample, step and range.
type triad struct {
	sim.Triad
	chance *noise.Stream
	extra  *extra // nil: bias, noise, step and range only
}

// extra is what a triad with more errors than the usual keeps.
type extra struct {
	white              float64 // one standard deviation before the low-pass
	low                [3]lag
	drift              [3]wander
	density, vibration *noise.Stream
}

// newTriad makes a part whose streams of chance come by name; "" is that of the samples' own noise.
func newTriad(p *sim.Triad, chance func(effect string) *noise.Stream) triad {
	t := triad{Triad: *p, chance: chance("")}
	if t.Mounting == ([3]r3.Vec{}) {
		t.Mounting = [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	}
	if p.Bandwidth > 0 || p.Density > 0 || p.Drift.Sigma > 0 || p.Scale != (r3.Vec{}) || p.CrossAxis != 0 ||
		p.Thermal != (r3.Vec{}) || p.GSensitivity != 0 || p.Vibration > 0 {
		t.extra = newExtra(p, chance)
	}
	return t
}

func newExtra(p *sim.Triad, chance func(effect string) *noise.Stream) *extra {
	period := period(p.Rate, p.ClockError)
	// White noise of one-sided density D, sampled at f, fills 0 to f/2: its variance is D^2 f/2.
	x := &extra{white: float64(p.Density * math.Sqrt(0.5/period)), density: chance(".density"), vibration: chance(".vibration")}
	drift := chance(".drift")
	for i := range x.low {
		x.low[i] = lowPass(p.Bandwidth, period)
		x.drift[i] = newWander(p.Drift, period, drift)
	}
	return x
}

// sample turns a vector in body axes into the part's own and spoils it as the part would. force is the
// specific force at the part.
func (t *triad) sample(body r3.Vec, s *scene, force *r3.Vec) r3.Vec {
	v := r3.Vec{X: dot(&t.Mounting[0], &body), Y: dot(&t.Mounting[1], &body), Z: dot(&t.Mounting[2], &body)}
	if t.extra != nil {
		v = t.distort(v, s, force)
	}
	v = r3.Vec{X: v.X + t.Bias.X, Y: v.Y + t.Bias.Y, Z: v.Z + t.Bias.Z}
	if t.Noise > 0 {
		n := t.chance.Normal3()
		v = r3.Vec{X: v.X + float64(t.Noise*n[0]), Y: v.Y + float64(t.Noise*n[1]), Z: v.Z + float64(t.Noise*n[2])}
	}
	return r3.Vec{X: t.axis(v.X), Y: t.axis(v.Y), Z: t.axis(v.Z)}
}

// scene is what the parts of a board share at one instant.
type scene struct {
	now    sim.Time
	st     *sim.State
	kelvin float64 // K, temperature of the board
}

// distort does all but bias, noise, step and range.
func (t *triad) distort(v r3.Vec, s *scene, force *r3.Vec) r3.Vec {
	x := t.extra
	if t.Vibration > 0 && s.st.Thrust > 0 {
		v = r3.Vec{X: noisy(v.X, t.Vibration, x.vibration), Y: noisy(v.Y, t.Vibration, x.vibration), Z: noisy(v.Z, t.Vibration, x.vibration)}
	}
	in := [3]float64{
		v.X + float64(t.Scale.X*v.X) + float64(t.CrossAxis*(v.Y+v.Z)),
		v.Y + float64(t.Scale.Y*v.Y) + float64(t.CrossAxis*(v.X+v.Z)),
		v.Z + float64(t.Scale.Z*v.Z) + float64(t.CrossAxis*(v.X+v.Y)),
	}
	warm := s.kelvin - reference
	thermal := [3]float64{t.Thermal.X, t.Thermal.Y, t.Thermal.Z}
	for i := range in {
		y := x.low[i].next(noisy(in[i], x.white, x.density))
		y += x.drift[i].next() + float64(thermal[i]*warm)
		if t.GSensitivity != 0 {
			y += float64(t.GSensitivity * dot(&t.Mounting[i], force))
		}
		in[i] = y
	}
	return r3.Vec{X: in[0], Y: in[1], Z: in[2]}
}

// axis rounds to a step within the range.
func (t *triad) axis(x float64) float64 {
	x = steps(x, t.Resolution)
	if t.Range > 0 {
		if x > t.Range {
			return t.Range
		}
		if x < -t.Range {
			return -t.Range
		}
	}
	return x
}

// clipped gives v with each axis that is at the end of the range taken from high, which is in the
// high-range part's axes.
func (t *triad) clipped(v, high r3.Vec, m *[3]r3.Vec) r3.Vec {
	if !(t.Range > 0) {
		return v
	}
	body := r3.Vec{
		X: float64(m[0].X*high.X) + float64(m[1].X*high.Y) + float64(m[2].X*high.Z),
		Y: float64(m[0].Y*high.X) + float64(m[1].Y*high.Y) + float64(m[2].Y*high.Z),
		Z: float64(m[0].Z*high.X) + float64(m[1].Z*high.Y) + float64(m[2].Z*high.Z),
	}
	for i, x := range [...]*float64{&v.X, &v.Y, &v.Z} {
		if math.Abs(*x) >= t.Range {
			*x = dot(&t.Mounting[i], &body)
		}
	}
	return v
}

// forceAt gives the specific force at a place, station metres aft of the stage's front end on the axis
// and from there by an offset in body axes, in m/s2 and body axes: that at the centre of gravity plus
// Euler and centripetal terms, alpha x r + omega x (omega x r). That the centre of gravity creeps
// forward while propellant burns is left out.
func forceAt(st *sim.State, station float64, by r3.Vec) r3.Vec {
	x, y, z := st.CG-st.Front-station+by.X, by.Y, by.Z
	w, a := &st.Rates, &st.Angular
	f := r3.Vec{
		X: st.Force.X - float64(x*(float64(w.Y*w.Y)+float64(w.Z*w.Z))),
		Y: st.Force.Y + float64(x*(a.Z+float64(w.X*w.Y))),
		Z: st.Force.Z + float64(x*(float64(w.X*w.Z)-a.Y)),
	}
	if y != 0 || z != 0 {
		f.X += float64(y*(float64(w.X*w.Y)-a.Z)) + float64(z*(float64(w.X*w.Z)+a.Y))
		f.Y += float64(z*(float64(w.Y*w.Z)-a.X)) - float64(y*(float64(w.X*w.X)+float64(w.Z*w.Z)))
		f.Z += float64(y*(float64(w.Y*w.Z)+a.X)) - float64(z*(float64(w.X*w.X)+float64(w.Y*w.Y)))
	}
	return f
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
