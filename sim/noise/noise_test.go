package noise

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func TestFirstNumbersArePinned(t *testing.T) {
	s := New(1, "sustainer.accelerometer")
	var bits []string
	for range 4 {
		bits = append(bits, fmt.Sprintf("%016x", math.Float64bits(s.Normal())))
	}
	assert.Equal(t, []string{"bff144c5fb0c4945", "bffc5688b77c7b75", "3fbf9452e2ec99c9", "bfa805e47d43c939"}, bits,
		"records on all processors rest on these bits")
	u := New(1, "u")
	assert.Equal(t, "3fe87a8f175b9d0a", fmt.Sprintf("%016x", math.Float64bits(u.Uniform())))
}

// The whole generator, wedges and tail included, is pinned by a sum of bits over many draws.
func TestManyBitsArePinned(t *testing.T) {
	s, sum := New(7, "all"), uint64(0)
	for range 1_000_000 {
		sum = sum*31 + math.Float64bits(s.Normal())
	}
	assert.Equal(t, "900428970b5dc9e9", fmt.Sprintf("%016x", sum))
}

func TestBitsAreThoseOfTheLibrary(t *testing.T) {
	s, library := New(7, "all"), rand.NewPCG(hash(7, 1, "all"), hash(7, 2, "all"))
	for range 10_000 {
		require.Equal(t, library.Uint64(), s.bits())
	}
}

func TestThreeAtOnceAreThree(t *testing.T) {
	one, three := New(7, "all"), New(7, "all")
	for range 100_000 {
		x, y, z := three.Normal3()
		require.Equal(t, [3]float64{one.Normal(), one.Normal(), one.Normal()}, [3]float64{x, y, z})
	}
	require.Equal(t, one.Uniform(), three.Uniform())
}

// Moments of n draws are asymptotically normal with the variances 1/n, 2/n, 15/n and 96/n for mean,
// variance and raw third and fourth moment: var(x^k) of a standard normal is E x^2k - (E x^k)^2.
func TestMomentsOfNormal(t *testing.T) {
	const n = 2_000_000
	var m [5]float64
	s := New(3, "moments")
	for range n {
		x := s.Normal()
		for k, p := 1, x; k <= 4; k, p = k+1, p*x {
			m[k] += p / n
		}
	}
	for _, c := range []struct {
		k            int
		want, spread float64
	}{{1, 0, 1}, {2, 1, 2}, {3, 0, 15}, {4, 3, 96}} {
		assert.InDelta(t, c.want, m[c.k], 3.89*math.Sqrt(c.spread/n), "moment %d within 99.99 %%", c.k)
	}
}

// Kolmogorov-Smirnov: sup |F_n - F| below 1.9495/sqrt(n) with confidence 99.9 %, since the
// Kolmogorov distribution gives 2 exp(-2 * 1.9495^2) = 0.001.
func TestDistributions(t *testing.T) {
	const n = 400_000
	for _, c := range []struct {
		name string
		draw func(*Stream) float64
		cdf  func(float64) float64
	}{
		{"normal", (*Stream).Normal, distuv.UnitNormal.CDF},
		{"uniform", (*Stream).Uniform, func(x float64) float64 { return x }},
	} {
		s, xs := New(5, c.name), make([]float64, n)
		for i := range xs {
			xs[i] = c.draw(s)
		}
		slices.Sort(xs)
		worst := 0.0
		for i, x := range xs {
			f := c.cdf(x)
			worst = max(worst, f-float64(i)/n, float64(i+1)/n-f)
		}
		assert.Less(t, worst, 1.9495/math.Sqrt(n), c.name)
	}
}

// The tail is a path of its own that a test of the whole would hardly feel: chi-square over 19 bins
// of what lies beyond tailStart, and its share, against the normal distribution.
func TestTail(t *testing.T) {
	const n, bins = 20_000_000, 20
	far, count := 0.0, [bins]float64{}
	beyond := distuv.UnitNormal.Survival(tailStart)
	for s, i := New(11, "tail"), 0; i < n; i++ {
		if x := math.Abs(s.Normal()); x > tailStart {
			far++
			count[min(bins-1, int(bins*(1-distuv.UnitNormal.Survival(x)/beyond)))]++
		}
	}
	mean := 2 * beyond * n
	assert.InDelta(t, mean, far, 3.89*math.Sqrt(mean), "share beyond the tail's start, 99.99 %")
	chi := 0.0
	for _, c := range count {
		chi += (c - far/bins) * (c - far/bins) / (far / bins)
	}
	assert.Less(t, chi, distuv.ChiSquared{K: bins - 1}.Quantile(0.9999), "shape of the tail, 99.99 %")
}

// Correlation of independent streams is about normal with deviation 1/sqrt(n).
func TestNamesAndSeedsAreIndependent(t *testing.T) {
	const n = 200_000
	for _, c := range []struct {
		a, b   *Stream
		reason string
	}{
		{New(1, "a.gyro"), New(1, "b.gyro"), "two boards with the same part"},
		{New(1, "a.gyro"), New(2, "a.gyro"), "neighbouring seeds"},
		{New(0, ""), New(0, "\x00"), "the empty name and a zero byte"},
		{New(1, "fault.0"), New(1, "fault.1"), "numbered streams"},
	} {
		sum := 0.0
		for range n {
			sum += c.a.Normal() * c.b.Normal()
		}
		assert.Less(t, math.Abs(sum/n), 3.89/math.Sqrt(n), c.reason)
	}
}

func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed, name := rapid.Uint64().Draw(t, "seed"), rapid.String().Draw(t, "name")
		other := rapid.String().Filter(func(s string) bool { return s != name }).Draw(t, "other")
		a, b, c := New(seed, name), New(seed, name), New(seed, other)
		same := true
		for range 50 {
			x := a.Normal()
			same = same && x == c.Normal() // c is drawn from in between, and moves nothing
			require.Equal(t, x, b.Normal(), "equal seed and name, equal numbers")
			u := a.Uniform()
			require.Equal(t, u, b.Uniform())
			require.True(t, u >= 0 && u < 1)
		}
		require.False(t, same, "another name, another stream")
	})
}

// Second path for the constants: area = r f(r) + integral of f beyond r, by the library's erfc.
func TestLayers(t *testing.T) {
	r := float64(tailStart)
	area := r*math.Exp(-r*r/2) + math.Sqrt(math.Pi/2)*math.Erfc(r/math.Sqrt2)
	assert.InEpsilon(t, area, layerArea, 1e-11)
	assert.InDelta(t, 1, ziggurat[layers-2].high+layerArea/(ziggurat[layers-1].scale*0x1p53), 1e-9, "the boxes end at the summit")
	for i, l := range ziggurat[1:] {
		w := l.scale * 0x1p53
		assert.InDelta(t, math.Exp(-w*w/2), l.low, 1e-12, "box %d touches the curve", i+1)
		assert.Less(t, l.low, l.high)
	}
	assert.Zero(t, ziggurat[layers-1].inside, "the top box has no sure part")
}

func TestDrawingDoesNotAllocate(t *testing.T) {
	s := New(1, "x")
	assert.Zero(t, testing.AllocsPerRun(1000, func() { s.Normal(); s.Uniform() }))
}

var sink float64

func BenchmarkNormal(b *testing.B) {
	s := New(1, "x")
	for b.Loop() {
		sink = s.Normal()
	}
}

func BenchmarkUniform(b *testing.B) {
	s := New(1, "x")
	for b.Loop() {
		sink = s.Uniform()
	}
}
