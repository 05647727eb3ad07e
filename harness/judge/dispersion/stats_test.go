package dispersion_test

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
)

// Computed by SciPy 1.10.1: scipy.stats.binomtest(k, n).proportion_ci(method="exact"), confidence 0.95.
var exact = []struct {
	k, n      int
	low, high float64
}{
	{0, 1, 0, 0.975},
	{1, 1, 0.025, 1},
	{0, 20, 0, 0.168433470983},
	{20, 20, 0.831566529017, 1},
	{1, 20, 0.00126508949796, 0.248732762772},
	{19, 20, 0.751267237228, 0.998734910502},
	{7, 20, 0.153909204785, 0.592188534533},
	{13, 20, 0.407811465467, 0.846090795215},
	{50, 100, 0.398321129503, 0.601678870497},
	{99, 100, 0.945540614608, 0.999746853967},
	{100, 100, 0.963783307355, 1},
	{991, 1000, 0.98298421693, 0.99587660434},
	{999, 1000, 0.99444107572, 0.999974682513},
	{1000, 1000, 0.996317916103, 1},
	{3, 1000, 0.00061909993165, 0.00874202323866},
	{99999, 100000, 0.99994428484, 0.999999746822},
}

func TestIntervalAgainstSciPysTable(t *testing.T) {
	for _, row := range exact {
		low, high := dispersion.Interval(row.k, row.n)
		assert.InDelta(t, row.low, low, 1e-9, "%d of %d", row.k, row.n)
		assert.InDelta(t, row.high, high, 1e-9, "%d of %d", row.k, row.n)
	}
}

// Without failures the bounds have closed forms; 59 and 299 flights are the well-known numbers for 95 % and
// 99 % of 95 % confidence (Wilks 1941, from memory).
func TestBoundsWithoutFailures(t *testing.T) {
	assert.Less(t, dispersion.AtLeast(58, 58), 0.95)
	assert.GreaterOrEqual(t, dispersion.AtLeast(59, 59), 0.95)
	assert.Less(t, dispersion.AtLeast(298, 298), 0.99)
	assert.GreaterOrEqual(t, dispersion.AtLeast(299, 299), 0.99)
	assert.InDelta(t, 0.97, dispersion.AtLeast(99, 99), 3e-4)
	low, high := dispersion.Interval(0, 0)
	assert.Equal(t, []float64{0, 1}, []float64{low, high}, "nothing flown proves nothing")
	assert.Zero(t, dispersion.AtLeast(0, 0))
}

// The bounds are those shares at which so many or more, so many or fewer, come about 25 times in 1000: by
// adding up the binomial distribution term by term.
func TestIntervalByTheBinomialItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 400).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		low, high := dispersion.Interval(k, n)
		require.True(t, 0 <= low && low <= float64(k)/float64(n) && float64(k)/float64(n) <= high && high <= 1)
		if k > 0 {
			require.InDelta(t, 0.025, tail(n, k, n, low), 1e-7)
		}
		if k < n {
			require.InDelta(t, 0.025, tail(n, 0, k, high), 1e-7)
		}
		require.GreaterOrEqual(t, dispersion.AtLeast(k, n), low, "with the whole doubt on one side")
	})
}

// tail is the probability of from to to successes out of n.
func tail(n, from, to int, p float64) (sum float64) {
	all, _ := math.Lgamma(float64(n + 1))
	for i := from; i <= to; i++ {
		a, _ := math.Lgamma(float64(i + 1))
		b, _ := math.Lgamma(float64(n - i + 1))
		sum += math.Exp(all - a - b + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
	}
	return sum
}

// SciPy, on this machine, of drawn lists with ties: spearmanr, its p-value at our bound, binomtest.
func TestAgainstSciPyItself(t *testing.T) {
	python := "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import scipy").Run(); err != nil {
		require.NotEqual(t, "all", os.Getenv("DRYSTAGE_TOOLS"), "SciPy is missing: make tools")
		t.Skip("no SciPy here: apt-get install python3-scipy")
	}
	type pair struct{ X, Y []float64 }
	var in struct {
		Pairs []pair
		Sizes []int
	}
	gen := rapid.Custom(func(t *rapid.T) pair {
		n := rapid.IntRange(5, 60).Draw(t, "n")
		some := rapid.SliceOfN(rapid.Map(rapid.IntRange(-9, 9), func(i int) float64 { return float64(i) / 3 }), n, n)
		return pair{some.Draw(t, "x"), some.Draw(t, "y")}
	})
	for i := range 40 {
		p := gen.Example(i)
		p.X[0], p.X[1], p.Y[0], p.Y[1] = 50, 51, 50, 51 // never all the same
		in.Pairs = append(in.Pairs, p)
	}
	in.Sizes = []int{5, 6, 10, 30, 100, 1000}
	text, err := json.Marshal(in)
	require.NoError(t, err)
	const script = `
import json, sys
import numpy as np
from scipy import stats
d = json.loads(sys.argv[1])
def p_value(n, r): # of a rank correlation r of n pairs, as scipy.stats.spearmanr works it out
    t = r * np.sqrt((n - 2) / ((1 - r) * (1 + r)))
    return 2 * stats.t.sf(abs(t), n - 2)
rho, same = [], []
for p in d["Pairs"]:
    r = stats.spearmanr(p["X"], p["Y"])
    rho.append(r[0])
    same.append(abs(p_value(len(p["X"]), r[0]) - r[1]) < 1e-9)
bound = []
for n in d["Sizes"]:
    lo, hi = 0.0, 1.0
    for _ in range(80):
        mid = (lo + hi) / 2
        lo, hi = (mid, hi) if p_value(n, mid) > 0.01 else (lo, mid)
    bound.append(lo)
print(json.dumps({"Rho": rho, "Bound": bound, "Same": all(same)}))
`
	out, err := exec.CommandContext(t.Context(), python, "-c", script, string(text)).Output()
	require.NoError(t, err)
	var want struct {
		Rho, Bound []float64
		Same       bool
	}
	require.NoError(t, json.Unmarshal(out, &want))
	require.True(t, want.Same, "the p-value here is SciPy's own")
	require.Len(t, want.Rho, len(in.Pairs))
	for i, p := range in.Pairs {
		assert.InDelta(t, want.Rho[i], dispersion.Correlation(p.X, p.Y), 1e-12)
	}
	for i, n := range in.Sizes {
		assert.InDelta(t, want.Bound[i], dispersion.NoiseBound(n), 1e-9, "%d pairs", n)
	}
}

// Values by SciPy 1.10.1, scipy.stats.spearmanr; the first is free of ties: 1 - 6 sum(d2) / (n (n2-1)) by hand.
func TestCorrelation(t *testing.T) {
	nan := math.NaN()
	rows := []struct {
		x, y   []float64
		want   float64
		reason string
	}{
		{[]float64{1, 2, 3, 4, 5}, []float64{2, 1, 4, 3, 5}, 0.8, "d2 add up to 4"},
		{[]float64{1, 2, 3}, []float64{1, 10, 1e9}, 1, "only the order counts"},
		{[]float64{1, 2, 3}, []float64{3, 2, -1}, -1, "downwards"},
		{[]float64{1, 2, 2, 4, 5, 5, 5}, []float64{7, 1, 3, 3, 9, 9, 2}, 0.314414072761266, "ties share the mean of their ranks"},
		{[]float64{1, 1, 1}, []float64{1, 2, 3}, nan, "nothing varied"},
		{[]float64{1}, []float64{1}, nan, "one flight"},
		{[]float64{1, 2}, []float64{1}, nan, "lists of two lengths"},
	}
	for _, row := range rows {
		got := dispersion.Correlation(row.x, row.y)
		if math.IsNaN(row.want) {
			assert.True(t, math.IsNaN(got), row.reason)
			continue
		}
		assert.InDelta(t, row.want, got, 1e-12, row.reason)
	}
	assert.Equal(t, 1.0, dispersion.NoiseBound(4), "four pairs say nothing")
}

func TestHistogram(t *testing.T) {
	rows := []struct {
		values []float64
		want   []dispersion.Bin
		reason string
	}{
		{nil, nil, "nothing"},
		{[]float64{3, 3}, []dispersion.Bin{{3, 3, 2}}, "all the same"},
		{[]float64{-1, 0.5, 9.5}, []dispersion.Bin{{-1, 0, 1}, {0, 1, 1}, {1, 2, 0}, {2, 3, 0}, {3, 4, 0}, {4, 5, 0}, {5, 6, 0}, {6, 7, 0}, {7, 8, 0}, {8, 9, 0}, {9, 10, 1}}, "0 is an edge"},
		{[]float64{0, 100}, []dispersion.Bin{{0, 10, 1}, {10, 20, 0}, {20, 30, 0}, {30, 40, 0}, {40, 50, 0}, {50, 60, 0}, {60, 70, 0}, {70, 80, 0}, {80, 90, 0}, {90, 100, 0}, {100, 110, 1}}, "an edge belongs to the bin above it"},
		{[]float64{1, math.Nextafter(1, 2)}, []dispersion.Bin{{1, math.Nextafter(1, 2), 2}}, "no steps between neighbours"},
		{[]float64{-1e308, 1e308}, []dispersion.Bin{{-1e308, 1e308, 2}}, "a span without a number"},
	}
	for _, row := range rows {
		assert.Equal(t, row.want, dispersion.Histogram(row.values), row.reason)
	}
}

// Every value is counted once, inside its bin; bins join and are few.
func TestHistogramLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64(), 1, 50).Draw(t, "values")
		bins := dispersion.Histogram(values)
		require.LessOrEqual(t, len(bins), 24)
		sum := 0
		for i, b := range bins {
			sum += b.Count
			require.LessOrEqual(t, b.From, b.To)
			if i > 0 {
				require.Equal(t, bins[i-1].To, b.From)
			}
		}
		require.Equal(t, len(values), sum)
	})
}

// sheet makes a sheet of flights with one thing that varies and one expectation.
func sheet(answers []harness.Answer, margins []float64) *dispersion.Sheet {
	plan := harness.Plan{Expect: []harness.Expectation{{Text: "lights"}}, Vary: []harness.Vary{{Name: "wind.speed", Unit: "m/s", Low: 0, High: 10}}}
	s := dispersion.NewSheet(&plan)
	for i, a := range answers {
		f := harness.Finding{Text: "lights", Answer: a, Margin: margins[i], Share: margins[i] / 10, Unit: "s", HasMargin: !math.IsNaN(margins[i])}
		v := harness.Verdict{Answer: a, Findings: []harness.Finding{f}}
		if a == harness.Unsure {
			v.Findings = append(v.Findings, harness.Finding{Text: "no frame was lost", Answer: a, Reason: "1 was"})
		}
		flown := plan
		flown.Set = []harness.Value{{Name: "other", Value: 1}, {Name: "wind.speed", Value: float64(i), Unit: "m/s"}}
		s.Add(i+1, &flown, &v)
	}
	return s
}

func TestSheet(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	pass, fail, unsure := harness.Pass, harness.Fail, harness.Unsure
	s := sheet([]harness.Answer{pass, pass, fail, unsure, pass, pass, pass, unsure}, []float64{8, 7, nan, nan, 4, 3, 2, 1})
	n := s.Count()
	p, f, u := n.Pass, n.Fail, n.Unsure
	assert.Equal(t, []int{5, 1, 2}, []int{p, f, u})
	assert.Equal(t, fail, s.Answer())
	assert.Equal(t, 7, s.Closest, "the last has the smallest share")
	assert.Equal(t, 6, s.Near, "of those that passed, the one before it")
	require.Len(t, s.Doubts, 1)
	assert.Equal(t, dispersion.Doubt{Text: "no frame was lost", Answer: unsure, Reason: "1 was", First: 4, Count: 2}, s.Doubts[0])
	o := s.Outcomes()[0]
	assert.Equal(t, 2, o.Worst, "a failure without a margin is worse than any margin")
	assert.Equal(t, 6, o.Measured)
	assert.Equal(t, []float64{1, 1, 3}, []float64{o.Least, o.Percentile5, o.Median})
	assert.Equal(t, []dispersion.Driver{{Name: "wind.speed", Rho: -1}}, o.Drivers)
	assert.Equal(t, "s", o.Unit)

	s = sheet([]harness.Answer{pass, pass, unsure, unsure}, []float64{1, inf, 5, nan})
	assert.Equal(t, unsure, s.Answer())
	o = s.Outcomes()[0]
	assert.Equal(t, 2, o.Worst, "unsure with a margin before unsure without, and both before a pass")
	assert.Equal(t, 2, o.Measured, "no bound on the margin is no number")
	assert.Empty(t, o.Drivers, "four flights say nothing of what drives them")

	assert.Equal(t, unsure, sheet(nil, nil).Answer(), "nothing flown proves nothing")
	assert.Equal(t, pass, sheet([]harness.Answer{pass}, []float64{1}).Answer())
	assert.Equal(t, -1, sheet([]harness.Answer{pass}, []float64{nan}).Closest)
}
