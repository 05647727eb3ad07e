package dispersion

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"drystage/harness"
	"drystage/sim/noise"
)

// standIn is a cheap flight with a known probability of failure.
type standIn struct {
	name   string
	dims   int
	limit  func(z []float64, seed uint64) float64
	chance float64
	reason string
}

func standIns() []standIn {
	tail := distuv.UnitNormal.Quantile(1 - 1e-5)
	noisy := math.Sqrt(1.25) // of a sum of score and half a seed's number
	return []standIn{
		{"plane", 8, func(z []float64, _ uint64) float64 {
			sum := 0.0
			for _, x := range z {
				sum += x
			}
			return tail - sum/math.Sqrt(float64(len(z)))
		}, 1e-5, "all parameters count alike"},
		{"two sides", 3, func(z []float64, _ uint64) float64 { return distuv.UnitNormal.Quantile(1-0.5e-5) - math.Abs(z[0]) }, 1e-5, "two regions fail"},
		{"noise", 4, func(z []float64, seed uint64) float64 {
			return tail*noisy - z[1] - noise.New(seed, "x").Normal()/2
		}, 1e-5, "the seed has a part in it"},
	}
}

// rareOf flies a stand-in.
func rareOf(t testing.TB, s *standIn, n int, seed uint64) Rare {
	first := make([]State, n)
	random := noise.New(seed, "first")
	for i := range first {
		first[i] = State{Scores: make([]float64, s.dims), Seed: uint64(i)}
		for k := range first[i].Scores {
			first[i].Scores[k] = random.Normal()
		}
	}
	fly := func(list []State) error {
		for i := range list {
			list[i].Limit = s.limit(list[i].Scores, list[i].Seed)
		}
		return nil
	}
	require.NoError(t, fly(first))
	r, err := Subset(first, seed, fly)
	require.NoError(t, err)
	return r
}

// A failure of one in 100,000 is estimated within a factor of 2 by at most 5,000 flights, and the 95 % intervals of 200
// repetitions hold it about as often as they say.
func TestRareFailures(t *testing.T) {
	for _, s := range standIns() {
		const n = 200
		held, near, most := 0, 0, 0
		logs, wide := 0.0, 0.0
		for seed := range uint64(n) {
			r := rareOf(t, &s, 900, seed)
			most = max(most, r.Flights)
			if r.Low <= s.chance && s.chance <= r.High {
				held++
			}
			if r.Value < 2*s.chance && r.Value > s.chance/2 {
				near++
			}
			wide += r.Variation / n
			logs += math.Log(r.Value/s.chance) / n
		}
		t.Logf("%s: %d of %d intervals hold it, %d estimates are within a factor of 2, mean logarithm %+.3f, mean variation %.2f, at most %d flights", s.name, held, n, near, logs, wide, most)
		assert.GreaterOrEqual(t, held, 184, s.reason) // 190 less two standard deviations of the count
		assert.GreaterOrEqual(t, near, 160, s.reason)
		assert.LessOrEqual(t, most, 5000)
	}
}

func TestLimitState(t *testing.T) {
	f := func(a harness.Answer, share ...float64) harness.Finding {
		x := harness.Finding{Answer: a, HasMargin: len(share) > 0}
		if x.HasMargin {
			x.Share = share[0]
		}
		return x
	}
	rows := []struct {
		list   []harness.Finding
		only   int
		want   float64
		reason string
	}{
		{[]harness.Finding{f(harness.Pass, 0.4), f(harness.Pass, 0.1)}, 0, 0.1, "the nearest"},
		{[]harness.Finding{f(harness.Pass, 0.4), f(harness.Fail, -0.1)}, 1, 0.4, "one only"},
		{[]harness.Finding{f(harness.Pass), f(harness.Pass)}, 0, math.Inf(1), "no margin at all"},
		{[]harness.Finding{f(harness.Pass, 0.4), f(harness.Fail)}, 0, math.Inf(-1), "never switched on"},
		{[]harness.Finding{f(harness.Pass, 0.4), f(harness.Unsure, 0.01)}, 0, 0, "too near to tell is no pass"},
		{[]harness.Finding{f(harness.Pass, 0.4), f(harness.Pass, 0.3), f(harness.Unsure)}, 0, 0, "a doubt about the run"},
		{[]harness.Finding{f(harness.Pass, 0.4), f(harness.Pass, 0.3), f(harness.Unsure)}, 2, 0.3, "which isn't the expectation's"},
	}
	for _, row := range rows {
		assert.Equal(t, row.want, LimitState(&harness.Verdict{Findings: row.list}, 2, row.only), row.reason)
	}
}

// The Ishigami function with a = 7 and b = 0.1 has the variance a2/8 + b pi4/5 + b2 pi8/18 + 1/2 and these indices in closed form
// (T. Ishigami, T. Homma, ISUMA 1990; as in the documentation of SALib: 0.3139, 0.4424, 0 and 0.5576, 0.4424, 0.2437). The
// intervals of 200 estimates hold them about as often as they say.
func TestSobolIndicesOfTheIshigamiFunction(t *testing.T) {
	want := [3][2]float64{{0.3139, 0.5576}, {0.4424, 0.4424}, {0, 0.2437}}
	f := func(x [3]float64) float64 {
		return math.Sin(x[0]) + 7*math.Pow(math.Sin(x[1]), 2) + 0.1*math.Pow(x[2], 4)*math.Sin(x[0])
	}
	const n, times = 1000, 200
	held := [3][2]int{}
	random := noise.New(4, "ishigami")
	point := func() (x [3]float64) {
		for k := range x {
			x[k] = math.Pi * (2*random.Uniform() - 1)
		}
		return x
	}
	for range times {
		var a, b [n]float64
		var ab [3][n]float64
		for i := range n {
			x, y := point(), point()
			a[i], b[i] = f(x), f(y)
			for k := range 3 {
				m := x
				m[k] = y[k]
				ab[k][i] = f(m)
			}
		}
		for k := range 3 {
			first, total := Sobol(a[:], b[:], ab[k][:])
			for m, e := range [2]Estimate{first, total} {
				assert.InDelta(t, want[k][m], e.Value, 0.2)
				if e.Low <= want[k][m] && want[k][m] <= e.High {
					held[k][m]++
				}
			}
		}
	}
	for k := range held {
		for m := range held[k] {
			assert.GreaterOrEqual(t, held[k][m], 184, "parameter %d", k+1)
		}
	}
}

// A failure that isn't rare is counted, with the exact interval; one that nothing leads to ends with a bound.
func TestSubsetWithoutLevels(t *testing.T) {
	often := standIn{dims: 2, limit: func(z []float64, _ uint64) float64 { return 0.5 - z[0] }}
	r := rareOf(t, &often, 200, 1)
	low, high := Interval(int(math.Round(200*r.Value)), 200)
	assert.Equal(t, []float64{low, high}, []float64{r.Low, r.High})
	assert.Equal(t, 200, r.Flights)
	flat := standIn{dims: 2, limit: func([]float64, uint64) float64 { return math.Inf(1) }}
	r = rareOf(t, &flat, 200, 1)
	assert.True(t, r.Ended)
	assert.Equal(t, 200, r.Flights)
	assert.Equal(t, 1.0, r.High)
	never := standIn{dims: 2, limit: func(z []float64, _ uint64) float64 { return 100 - z[0] }}
	r = rareOf(t, &never, 200, 1)
	assert.True(t, r.Ended)
	assert.Len(t, r.Levels, mostLevels)
	assert.Less(t, r.High, 1e-10)
}

// Sweeps that stop at a width have intervals that hold the true rate about as often as those of a fixed number of flights.
func TestTightIntervalsHold(t *testing.T) {
	for _, rate := range []float64{0.5, 0.9, 0.99} {
		const n, width = 400, 0.1
		held, random := 0, noise.New(6, "tight")
		for range n {
			s := NewSheet(&harness.Plan{})
			for i := 1; ; i++ {
				v := harness.Verdict{Answer: harness.Fail}
				if random.Uniform() < rate {
					v.Answer = harness.Pass
				}
				if s.Add(i, &harness.Plan{}, &v); s.Tight(width) {
					break
				}
			}
			if low, high := Interval(s.Count().Pass, len(s.Flights)); low <= rate && rate <= high {
				held++
			}
		}
		assert.GreaterOrEqual(t, held, 371, "%v", rate) // 380 less two standard deviations
	}
}
