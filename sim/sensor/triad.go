package sensor

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/r3"
)

// triad is a three-axis accelerometer, gyro or magnetometer. Its errors apply in the order of the signal path: position, mounting,
// scale and cross-axis, vibration, the range of the sensing element, white noise, low-pass, then drift and the other
// bias terms, noise of the sample, resolution and range of the output.
type triad struct {
	sim.Triad
	random    *noise.Stream
	vibration *vibration // nil: none
	extra     *extraErrors
	// plain says that there are only vibration, bias, noise, resolution and range; aligned, that the axes are the body's.
	plain, aligned bool
	// lost is what the next sample lacks, by axis, because the sensing element came to the end of its range in a shock.
	lost    [3]float64
	loses   bool
	perStep float64 // 1 over the resolution
}

// bodyAxes are the axes of a part that is mounted along the body's.
var bodyAxes = [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}

// extraErrors holds the less usual errors of a triad.
type extraErrors struct {
	lowPass [3]lag
	white   [3]gaussMarkov // white noise as it is behind the low-pass
	drift   [3]gaussMarkov
}

// newTriad makes a part; random gives the random stream of an effect, and with "" that of the noise of samples. v is
// the airframe's vibration, and turns says that the part is a gyro.
func newTriad(p *sim.Triad, v *sim.Vibration, turns bool, random func(effect string) *noise.Stream) triad {
	t := triad{Triad: *p, random: random("")}
	if t.Mounting == ([3]r3.Vec{}) {
		t.Mounting = bodyAxes
	}
	t.vibration = newVibration(&t.Triad, v, turns, random)
	t.extra = newExtraErrors(p, random)
	t.plain = p.Bandwidth <= 0 && p.Density <= 0 && p.Drift.Sigma <= 0 && p.Scale == r3.Vec{} && p.CrossAxis == 0 &&
		p.Thermal == r3.Vec{} && p.GSensitivity == 0
	t.perStep = 1 / t.Resolution
	t.aligned = t.Mounting == bodyAxes
	return t
}

func newExtraErrors(p *sim.Triad, random func(effect string) *noise.Stream) *extraErrors {
	period := period(p.Rate, p.ClockError)
	x := &extraErrors{}
	density, drift := random(".density"), random(".drift")
	for i := range x.lowPass {
		x.lowPass[i] = lowPass(p.Bandwidth, period)
		x.white[i] = whiteNoise(p.Density, p.Bandwidth, period, density)
		x.drift[i] = newGaussMarkov(p.Drift, period, drift)
	}
	return x
}

// whiteNoise gives white noise of one-sided density D behind a first-order low-pass of cut-off B, sampled. That is a
// Gauss-Markov process of variance D^2 B pi/2, whatever the rate of the samples: what lies beyond half the rate folds
// in. Without a low-pass the density is meant to fill the band up to half the rate f: variance D^2 f/2.
func whiteNoise(density, bandwidth, period float64, random *noise.Stream) gaussMarkov {
	if bandwidth > 0 {
		return newGaussMarkov(sim.GaussMarkov{Sigma: float64(density * math.Sqrt(float64(math.Pi/2*bandwidth))), Time: 1 / float64(2*math.Pi*bandwidth)}, period, random)
	}
	sigma := float64(density * math.Sqrt(0.5/period))
	if !(sigma > 0) {
		return gaussMarkov{}
	}
	return gaussMarkov{step: sigma, sigma: sigma, random: random}
}

// sample turns a vector from body axes into the part's axes and adds the part's errors. force is the specific
// force at the part.
func (t *triad) sample(body r3.Vec, s *input, force *r3.Vec) r3.Vec {
	v := body
	if !t.aligned {
		v = r3.Vec{X: dot(&t.Mounting[0], &body), Y: dot(&t.Mounting[1], &body), Z: dot(&t.Mounting[2], &body)}
	}
	if t.plain && t.loses {
		v, t.loses = r3.Vec{X: v.X + t.lost[0], Y: v.Y + t.lost[1], Z: v.Z + t.lost[2]}, false
	}
	if !t.plain || t.vibration != nil && t.vibration.active(s.st) {
		v = t.distort(v, s, force)
	}
	v = r3.Vec{X: v.X + t.Bias.X, Y: v.Y + t.Bias.Y, Z: v.Z + t.Bias.Z}
	if t.Noise > 0 {
		x, y, z := t.random.Normal3()
		v = r3.Vec{X: v.X + float64(t.Noise*x), Y: v.Y + float64(t.Noise*y), Z: v.Z + float64(t.Noise*z)}
	}
	return t.quantised(v)
}

// input is what all parts of a board measure at one instant.
type input struct {
	now         sim.Time
	st          *sim.State
	temperature float64 // K, temperature of the board
}

// distort adds all errors except bias, noise, resolution and range of the output.
func (t *triad) distort(v r3.Vec, s *input, force *r3.Vec) r3.Vec {
	x := t.extra
	in := t.scaled(v)
	if t.loses {
		in, t.loses = [3]float64{in[0] + t.lost[0], in[1] + t.lost[1], in[2] + t.lost[2]}, false
	}
	out := in
	for i := range out {
		if t.Range > 0 && t.Bandwidth > 0 {
			out[i] = limited(in[i], t.Range)
		}
		out[i] = x.lowPass[i].next(out[i])
	}
	if t.vibration != nil {
		out = t.vibration.next(&in, &out, s.st)
	}
	warmer := s.temperature - reference
	thermal := [3]float64{t.Thermal.X, t.Thermal.Y, t.Thermal.Z}
	for i := range out {
		y := out[i] + x.white[i].next() + x.drift[i].next() + float64(thermal[i]*warmer)
		if t.GSensitivity != 0 {
			y += float64(t.GSensitivity * dot(&t.Mounting[i], force))
		}
		out[i] = y
	}
	return r3.Vec{X: out[0], Y: out[1], Z: out[2]}
}

// inAxes gives a vector of the body as the sensing element feels it, with scale and cross-axis errors.
func (t *triad) inAxes(body r3.Vec) [3]float64 {
	return t.scaled(r3.Vec{X: dot(&t.Mounting[0], &body), Y: dot(&t.Mounting[1], &body), Z: dot(&t.Mounting[2], &body)})
}

// scaled adds the errors of scale and cross-axis.
func (t *triad) scaled(v r3.Vec) [3]float64 {
	return [3]float64{
		v.X + float64(t.Scale.X*v.X) + float64(t.CrossAxis*(v.Y+v.Z)),
		v.Y + float64(t.Scale.Y*v.Y) + float64(t.CrossAxis*(v.X+v.Z)),
		v.Z + float64(t.Scale.Z*v.Z) + float64(t.CrossAxis*(v.X+v.Y)),
	}
}

// quantised rounds to the resolution and limits to the range.
func (t *triad) quantised(v r3.Vec) r3.Vec {
	if step := t.Resolution; step > 0 {
		per := t.perStep
		v = r3.Vec{X: float64(math.RoundToEven(v.X*per) * step), Y: float64(math.RoundToEven(v.Y*per) * step), Z: float64(math.RoundToEven(v.Z*per) * step)}
	}
	if r := t.Range; r > 0 && !(math.Abs(v.X) <= r && math.Abs(v.Y) <= r && math.Abs(v.Z) <= r) {
		v = r3.Vec{X: limited(v.X, r), Y: limited(v.Y, r), Z: limited(v.Z, r)}
	}
	return v
}

// limited keeps x within a range on both sides; NaN stays.
func limited(x, r float64) float64 {
	switch {
	case x > r:
		return r
	case x < -r:
		return -r
	}
	return x
}

// useHighRange replaces each axis of v that is near the end of its range by that of high, a sample in the axes of
// the high-range part.
func (t *triad) useHighRange(v, high r3.Vec, m *[3]r3.Vec) r3.Vec {
	if !(t.Range > 0) {
		return v
	}
	body := r3.Vec{
		X: float64(m[0].X*high.X) + float64(m[1].X*high.Y) + float64(m[2].X*high.Z),
		Y: float64(m[0].Y*high.X) + float64(m[1].Y*high.Y) + float64(m[2].Y*high.Z),
		Z: float64(m[0].Z*high.X) + float64(m[1].Z*high.Y) + float64(m[2].Z*high.Z),
	}
	for i, x := range [...]*float64{&v.X, &v.Y, &v.Z} {
		if math.Abs(*x) >= nearEnd*t.Range {
			*x = dot(&t.Mounting[i], &body)
		}
	}
	return v
}

// nearEnd is the share of the low range above which a board takes the high one: vibration that is clipped never lets
// a filtered reading come to the very end. Common practice, no source.
const nearEnd = 0.95

// specificForceAt gives the specific force at a place, station metres aft of the stage's front end on the axis
// and from there by an offset in body axes, in m/s2 and body axes: that at the centre of gravity plus
// Euler and centripetal terms, alpha x r + omega x (omega x r). The movement of the centre of gravity while
// propellant burns is neglected.
func specificForceAt(st *sim.State, station float64, by r3.Vec) r3.Vec {
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

// addNoise adds normal noise of standard deviation sigma.
func addNoise(x, sigma float64, random *noise.Stream) float64 {
	if sigma <= 0 {
		return x
	}
	return x + float64(sigma*random.Normal())
}

// quantise rounds x to the nearest multiple of step, as a converter does; with step 0 it doesn't.
func quantise(x, step float64) float64 {
	if step <= 0 {
		return x
	}
	return float64(math.RoundToEven(x/step) * step)
}
