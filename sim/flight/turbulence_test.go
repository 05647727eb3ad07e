package flight

import (
	"encoding/binary"
	"hash/crc32"
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

const knot = 1852.0 / 3600

// MIL-F-8785C 3.7.3.4 with a wind of 30 kn at 20 ft (moderate), by formulas as transcribed in open code that
// names the standard; numbers computed independently.
func TestScalesAndIntensitiesOfTurbulence(t *testing.T) {
	const w20, aloft = 30 * knot, 3.0
	for _, r := range []struct {
		feet, scale, level, upScale, up float64
		reason                          string
	}{
		{50, 94.7280737, 2.83764230, 15.24, 1.54333333, "low altitude"},
		{100, 153.975613, 2.64812651, 30.48, 1.54333333, "low altitude"},
		{500, 287.931518, 1.90792434, 152.4, 1.54333333, "low altitude"},
		{1000, 304.8, 1.54333333, 304.8, 1.54333333, "isotropic at 1000 ft"},
		{1500, 419.1, 2.27166667, 419.1, 2.27166667, "halfway between 1000 ft and 2000 ft"},
		{2000, 533.4, 3, 533.4, 3, "1750 ft and the rms given"},
		{30000, 533.4, 3, 533.4, 3, "as at 2000 ft"},
		{10, 23.0548006, 3.02952963, 3.048, 1.54333333, "the lowest"},
		{0, 23.0548006, 3.02952963, 3.048, 1.54333333, "below, as at the lowest"},
	} {
		got := drydenAt(r.feet*metresPerFoot, w20, aloft)
		assert.InEpsilon(t, r.scale, got.horizontalScale, 3e-9, r.reason)
		assert.InEpsilon(t, r.level, got.horizontalRMS, 3e-9, r.reason)
		assert.InEpsilon(t, r.upScale, got.verticalScale, 3e-9, r.reason)
		assert.InEpsilon(t, r.up, got.verticalRMS, 3e-9, r.reason)
	}
}

// rough is a westerly with turbulence of 30 kn at 20 ft, so that east is along the wind.
func rough() sim.Wind {
	return sim.Wind{From: 270 * degree, Turbulence: sim.Turbulence{On: true, W20: 30 * knot, Aloft: 2}}
}

// Over 400 seeds each component at a height is 400 independent draws, so the sum of their squares over
// the variance is chi-square with 400 degrees of freedom. All 18 sums lie within with 99.9 % confidence
// (Bonferroni).
func TestVarianceOfTurbulence(t *testing.T) {
	const seeds = 400
	heights := []float64{15.25, 152, 304, 458, 2000, 10000} // nodes of the field
	sums := make([][3]float64, len(heights))
	for seed := range uint64(seeds) {
		w := rough()
		field := newWind(&w, seed).turbulence
		for i, h := range heights {
			e, n, u := field.at(h)
			sums[i][0] += e * e
			sums[i][1] += n * n
			sums[i][2] += u * u
		}
	}
	chi := distuv.ChiSquared{K: seeds}
	const alpha = 0.001 / 18
	low, high := chi.Quantile(alpha/2), chi.Quantile(1-alpha/2)
	for i, h := range heights {
		r := drydenAt(h, 30*knot, 2)
		for k, sigma := range []float64{r.horizontalRMS, r.horizontalRMS, r.verticalRMS} {
			x := sums[i][k] / (sigma * sigma)
			assert.True(t, x > low && x < high, "component %d at %v m: %.1f not in %.1f to %.1f", k, h, x, low, high)
		}
	}
}

// hann gives the spectral density at omega (rad per unit) of samples every step, by one periodogram with
// Hann's window.
func hann(xs []float64, step, omega float64) float64 {
	var re, im, sum float64
	for i, x := range xs {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(xs)))
		s, c := math.Sincos(omega * step * float64(i))
		re, im, sum = re+w*x*c, im+w*x*s, sum+w*w
	}
	return (re*re + im*im) * step / (math.Pi * sum) // one-sided
}

// The spectra of MIL-F-8785C 3.7.2.2 over distance in scale lengths, rms 1.
func longitudinal(o float64) float64 { return 2 / math.Pi / (1 + o*o) }
func lateral(o float64) float64      { return (1 + 3*o*o) / (math.Pi * (1 + o*o) * (1 + o*o)) }

// A periodogram over its spectrum is chi-square with 2 degrees of freedom over 2; the mean of n independent
// ones has 2n. Allowed beside the 99.9 % band of all rows together: 1 % for aliasing and the window.
func assertSpectrum(t *testing.T, what string, means map[float64]float64, n int, want func(o float64) float64) {
	chi := distuv.ChiSquared{K: 2 * float64(n)}
	alpha := 0.001 / float64(2*len(means))
	low, high := chi.Quantile(alpha/2)/(2*float64(n)), chi.Quantile(1-alpha/2)/(2*float64(n))
	for o, got := range means {
		x := got / want(o)
		assert.True(t, x > 0.99*low && x < 1.01*high, "%s at %.3g: %.4f of theory, not in %.4f to %.4f", what, o, x, low, high)
	}
}

func TestSpectraOfTheFilters(t *testing.T) {
	const segments, samples, step = 300, 2048, 0.05 // scale lengths
	first, second := newFirstOrder(noise.New(1, "u")), newSecondOrder(noise.New(1, "v"))
	us, vs := map[float64]float64{}, map[float64]float64{}
	bins := []int{4, 8, 16, 33, 66} // 0.25 to 4 per scale length
	u, v := make([]float64, samples), make([]float64, samples)
	for range segments {
		for i := range u {
			u[i], v[i] = first.value(), second.value()
			first.step(step)
			second.step(step)
		}
		for _, b := range bins {
			o := 2 * math.Pi * float64(b) / (samples * step)
			us[o] += hann(u, step, o) / segments
			vs[o] += hann(v, step, o) / segments
		}
	}
	assertSpectrum(t, "first order", us, segments, longitudinal)
	assertSpectrum(t, "second order", vs, segments, lateral)
}

// The field itself, sampled as a flight does, above 2000 ft, where it is uniform.
func TestSpectraOfTheField(t *testing.T) {
	const seeds, samples, step, scale, rms = 200, 2560, 8.0, 1750 * metresPerFoot, 2.0
	var sums [3]map[float64]float64
	for k := range sums {
		sums[k] = map[float64]float64{}
	}
	var xs [3][]float64
	for seed := range uint64(seeds) {
		w := rough()
		field := newWind(&w, seed).turbulence
		for k := range xs {
			xs[k] = xs[k][:0]
		}
		for i := range samples {
			e, n, u := field.at(1000 + step*float64(i))
			xs[0], xs[1], xs[2] = append(xs[0], e), append(xs[1], n), append(xs[2], u)
		}
		for _, b := range []int{9, 18, 36} {
			o := 2 * math.Pi * float64(b) / (samples * step)
			for k := range sums {
				sums[k][o*scale] += hann(xs[k], step, o) / (seeds * scale * rms * rms)
			}
		}
	}
	assertSpectrum(t, "along", sums[0], seeds, longitudinal)
	assertSpectrum(t, "across", sums[1], seeds, lateral)
	assertSpectrum(t, "up", sums[2], seeds, lateral)
}

// Autocorrelations of the forms: exp(-x), and (1 - x/2) exp(-x) with values computed independently.
func TestFiltersAreExact(t *testing.T) {
	for _, r := range []struct{ x, want float64 }{{0.25, 0.681450685}, {1, 0.183939721}, {2, 0}} {
		k := newTransition(r.x).decay
		got := (k[0] + math.Sqrt(3)*(k[1]+k[2]) + 3*k[3]) / 4
		assert.InDelta(t, r.want, got, 1e-9, "lateral, %v scale lengths on", r.x)
	}
	for _, dx := range []float64{1e-9, 0.0025, 0.1, 1, 7} {
		s := newTransition(dx)
		k, l := s.decay, s.noiseGain
		assert.InDelta(t, 1, k[0]*k[0]+k[1]*k[1]+l[0]*l[0], 1e-12, "the states keep variance 1: %v", dx)
		assert.InDelta(t, 1, k[2]*k[2]+k[3]*k[3]+l[1]*l[1]+l[2]*l[2], 1e-12, "%v", dx)
		assert.InDelta(t, 0, k[0]*k[2]+k[1]*k[3]+l[0]*l[1], 1e-12, "and no covariance: %v", dx)
		h := newTransition(dx / 2).decay
		assert.InDelta(t, k[0], h[0]*h[0]+h[1]*h[2], 1e-12, "two half steps are a step: %v", dx)
		assert.InDelta(t, k[3], h[2]*h[1]+h[3]*h[3], 1e-12, "%v", dx)
	}
	// Independent computation: 50 m/s, 10 ms, L 200 m: 0.997503122397, and 0.1412447635 for an rms of 2.
	u := newFirstOrder(noise.New(1, "u"))
	was := u.x
	spy := *u.random
	u.step(50 * 0.01 / 200)
	assert.InDelta(t, 0.997503122397*was+0.1412447635/2*spy.Normal(), u.x, 1e-9)
}

// The loss of variance by the cubics between nodes: from the correlation of the four nodes around, averaged over a
// cell.
func TestCubicsKeepTheVariance(t *testing.T) {
	along := func(x float64) float64 { return math.Exp(-x) }
	across := func(x float64) float64 { return (1 - x/2) * math.Exp(-x) }
	lost := func(dx float64, rho func(float64) float64) float64 {
		mean := 0.0
		for i := range 100 {
			x := (float64(i) + 0.5) / 100
			w := [4]float64{}
			for k := range w { // with the cubics of the field
				n := [4]float64{}
				n[k] = 1
				c := hermite(n[1], n[2], (n[2]-n[0])/2, (n[3]-n[1])/2)
				w[k] = cubic(&c, x)
			}
			for a := range w {
				for b := range w {
					mean += w[a] * w[b] * rho(dx*math.Abs(float64(a-b))) / 100
				}
			}
		}
		return 1 - mean
	}
	height := 0.0
	for i := range fieldCells {
		r, width := drydenAt(height, 10, 1), cellWidth(i)
		most := 0.02
		if height > 20 {
			most = 0.008
		}
		if i%7 == 0 {
			assert.Less(t, lost(width/r.horizontalScale, along), most, "along at %v m", height)
			assert.Less(t, lost(width/r.horizontalScale, across), most, "across at %v m", height)
			assert.Less(t, lost(width/r.verticalScale, across), most, "up at %v m", height)
		}
		height += width
	}
	assert.Equal(t, fieldTop, height, "the cells end where the field does")
}

func TestTheFieldIsSmoothAndEnds(t *testing.T) {
	w := rough()
	f := newWind(&w, 5).turbulence
	for i := 1; i < len(f.cells); i++ {
		a, b := &f.cells[i-1], &f.cells[i]
		assert.InDelta(t, b.up[0], cubic(&a.up, 1), 1e-12, "no jump at cell %d", i)
		slope := (a.up[1] + 2*a.up[2] + 3*a.up[3]) / cellWidth(i-1)
		assert.InDelta(t, b.up[1]/cellWidth(i), slope, 1e-11, "no kink at cell %d", i)
	}
	e, n, u := f.at(1e9)
	assert.InDeltaSlice(t, []float64{0, 0, 0}, []float64{e, n, u}, 1e-12, "calm above the model")
	low, _, _ := f.at(0)
	below, _, _ := f.at(-50)
	none, _, _ := f.at(math.NaN())
	assert.Equal(t, []float64{low, low}, []float64{below, none})
	assert.Nil(t, newWind(&sim.Wind{Speed: 9}, 5).turbulence, "none unless asked for")
}

// The wind at 20 ft sets intensity and direction when no other is given.
func TestTurbulenceOfTheSteadyWind(t *testing.T) {
	given := newWind(&sim.Wind{From: 200 * degree, Turbulence: sim.Turbulence{On: true, W20: 6}}, 3)
	own := newWind(&sim.Wind{Speed: 6, From: 200 * degree, Height: 20 * metresPerFoot, Turbulence: sim.Turbulence{On: true}}, 3)
	turned := newWind(&sim.Wind{Speed: 6, From: 290 * degree, Height: 20 * metresPerFoot, Turbulence: sim.Turbulence{On: true}}, 3)
	twice := newWind(&sim.Wind{Speed: 12, From: 200 * degree, Height: 20 * metresPerFoot, Turbulence: sim.Turbulence{On: true}}, 3)
	for _, h := range []float64{0, 33, 800, 9000} {
		ge, gn, gu := given.turbulence.at(h)
		oe, on, ou := own.turbulence.at(h)
		te, tn, tu := turned.turbulence.at(h)
		we, wn, wu := twice.turbulence.at(h)
		assert.InDeltaSlice(t, []float64{ge, gn, gu}, []float64{oe, on, ou}, 1e-9)
		assert.InDeltaSlice(t, []float64{on, -oe, ou}, []float64{te, tn, tu}, 1e-9, "turned with the wind by a right angle to the right")
		assert.InDeltaSlice(t, []float64{2 * oe, 2 * on, 2 * ou}, []float64{we, wn, wu}, 1e-9, "in proportion")
		e, n, u := own.at(h)
		se, sn := own.steady(h)
		assert.InDeltaSlice(t, []float64{se + oe, sn + on, ou}, []float64{e, n, u}, 1e-12, "on top of the steady wind")
	}
}

// roughDunlin flies the two-stage model through moderate turbulence.
func roughDunlin() *sim.Setup {
	s := dunlin()
	s.Wind.Turbulence = sim.Turbulence{On: true, W20: 15 * knot}
	return s
}

// Turbulence has these bits on every processor, and so has a flight through it.
func TestSameTurbulenceEverywhere(t *testing.T) {
	f := NewIdeal(roughDunlin())
	h := crc32.NewIEEE()
	require.NoError(t, binary.Write(h, binary.LittleEndian, f.wind.turbulence.cells))
	assert.Equal(t, uint32(0x02747566), h.Sum32())
	sumUp(t, h, f)
	assert.Equal(t, uint32(0xc661b7ed), h.Sum32())
}

// The field is drawn before the flight: neither the cadence of calls nor the length of steps changes it.
func TestStepsDontChangeTurbulence(t *testing.T) {
	fly := func(cadence sim.Time, tolerance float64, seed uint64) *Flight {
		s := roughDunlin()
		s.Seed = seed
		f := NewIdeal(s)
		f.tolerance = tolerance
		for !f.Landed() {
			f.AdvanceTo(f.now + cadence)
		}
		f.AdvanceTo(150 * second)
		return f
	}
	a, b, c := fly(second, 1e-8, 1), fly(7*millisecond, 1e-8, 1), fly(second, 1e-11, 1)
	assert.Equal(t, a.States(), b.States(), "asked often, not one bit")
	require.Greater(t, float64(c.solver.Steps), 1.5*float64(a.solver.Steps), "finer steps")
	for i := range a.Summary().Landings {
		x, y := a.Summary().Landings[i], c.Summary().Landings[i]
		assert.InDelta(t, y.East, x.East, 0.05)
		assert.InDelta(t, y.North, x.North, 0.05)
		assert.InDelta(t, y.At.Seconds(), x.At.Seconds(), 0.01)
	}
	assert.InDelta(t, c.Summary().Extremes.Height, a.Summary().Extremes.Height, 0.01)
	other := fly(second, 1e-8, 2)
	assert.Greater(t, math.Abs(other.Summary().Landings[0].North-a.Summary().Landings[0].North), 0.5, "another seed, another day")
	assert.Zero(t, a.Summary().Solver.Forced)
	t.Logf("steps %d of turbulence, apogee %.1f m", a.solver.Steps, a.Summary().Extremes.Height)
}

// A rocket oscillates more in turbulence than in a steady wind, and nothing allocates.
func TestTurbulenceExcitesTheRocket(t *testing.T) {
	shake := func(s *sim.Setup) float64 {
		f, most := NewIdeal(s), 0.0
		f.AdvanceTo(9 * second)
		n := testing.AllocsPerRun(400, func() {
			f.AdvanceTo(f.now + 5*millisecond)
			most = max(most, r3.Norm(r3.Vec{Y: f.States()[0].Rates.Y, Z: f.States()[0].Rates.Z}))
		})
		assert.Zero(t, n)
		return most
	}
	assert.Greater(t, shake(roughDunlin()), 2*shake(dunlin()))
}
