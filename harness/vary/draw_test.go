package vary_test

import (
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/vary"
)

// sweep is a plan in which everything varies, read again for each call.
func sweep(t testing.TB) harness.Plan {
	plan, problems := scenario.Load(os.DirFS("../files/scenario/testdata/good"), "full.yaml")
	require.Empty(t, problems)
	require.Len(t, plan.Vary, 16)
	return plan
}

// Drawing and applying don't change the plan, and the flights share nothing that one would change.
func TestFlightsShareNothing(t *testing.T) {
	plan, twin := sweep(t), sweep(t)
	a := vary.Plan(&plan, 1, harness.Random)
	b, b2 := vary.Plan(&plan, 2, harness.Random), vary.Plan(&plan, 2, harness.Random)
	require.Equal(t, twin, plan)
	require.Equal(t, b, b2)
	require.NotEqual(t, a.Setup, b.Setup)
	for i := range a.Setup.Vehicle.Stages {
		st := &a.Setup.Vehicle.Stages[i]
		st.Mass, st.Drag.Scale, st.Mount.Motor.Thrust[1].Thrust = -1, -1, -1
	}
	a.Setup.Wind.Gusts[0].From, a.Setup.Faults[0].Value, a.Setup.Bays[0].Sensors.Battery.Voltage = -1, -1, -1
	a.Set[0].Value = -1
	require.Equal(t, b2, b)
	require.Equal(t, "sustainer", twin.Setup.Vehicle.Stages[0].Name)
	booster := twin.Setup.Vehicle.Stages[1].Mount.Motor
	require.Equal(t, booster, plan.Setup.Vehicle.Stages[1].Mount.Motor)
}

// The value that the files have changes nothing, whatever varies.
func TestWrittenValuesChangeNothing(t *testing.T) {
	plan := sweep(t)
	for i := range plan.Vary {
		v := &plan.Vary[i]
		x := vary.Written(&plan, v)
		got := vary.Apply(&plan, plan.Vary, []harness.Value{x})
		require.Equal(t, []harness.Value{x}, got.Set)
		for k := range got.Setup.Vehicle.Stages {
			st := &got.Setup.Vehicle.Stages[k]
			require.Equal(t, 1.0, st.Drag.Factor())
			st.Drag.Scale, st.Stacked.Scale = 0, 0
		}
		require.Equal(t, plan.Setup, got.Setup, v.Name)
	}
}

// A name that nothing varies by does nothing, and a value that is given again counts once.
func TestApplyTakesKnownNamesOnce(t *testing.T) {
	plan := sweep(t)
	once := vary.Apply(&plan, plan.Vary, []harness.Value{{Name: "wind.speed", Value: 2, Unit: "m/s"}, {Name: "wind.width", Value: 2}})
	twice := vary.Apply(&once, plan.Vary, []harness.Value{{Name: "wind.speed", Value: 3, Unit: "m/s"}})
	assert.Equal(t, []harness.Value{{Name: "wind.speed", Value: 3, Unit: "m/s"}}, twice.Set)
	assert.Equal(t, 3.0, twice.Setup.Wind.Speed)
	assert.Equal(t, 2.0, once.Setup.Wind.Speed)
}

// Other parameters, their order and other flights don't change a draw.
func TestDrawsMoveNoOther(t *testing.T) {
	all := sweep(t).Vary
	rapid.Check(t, func(t *rapid.T) {
		seed := vary.Seed(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(1, 1<<20).Draw(t, "flight"))
		whole := vary.Draw(&harness.Plan{Vary: all}, seed)
		some := rapid.Permutation(all).Draw(t, "order")[:rapid.IntRange(0, len(all)).Draw(t, "of them")]
		for i, x := range vary.Draw(&harness.Plan{Vary: some}, seed) {
			v := some[i]
			require.Equal(t, v.Name, x.Name)
			require.Contains(t, whole, x, "%s is drawn alike alone", v.Name)
			require.True(t, v.Low <= x.Value && x.Value <= v.High, "%s: %v", v.Name, x.Value)
		}
	})
}

// Pinned, so that flight 17 of a sweep is always the same flight.
func TestDrawsArePinned(t *testing.T) {
	plan := sweep(t)
	assert.Equal(t, uint64(0x281050a7fbc1a89d), vary.Seed(1, 17))
	flight := vary.Plan(&plan, 17, harness.Random)
	assert.Equal(t, "full.flight17", flight.Name)
	assert.Equal(t, harness.Drawn{Seed: math.MaxUint64, Flight: 17}, flight.Drawn)
	assert.Equal(t, uint64(0x7ded70d4dea534c6), flight.Setup.Seed)
	assert.Equal(t, `[{of: wind.speed, is: 1.49942 m/s}, {of: wind.from, is: 235.396 deg}, {of: weather.temperature, is: -2.92265 degC}, {of: weather.pressure, is: 93529.9 Pa}]`, vary.Texts(flight.Set[:4]))
}

func TestSeedsOfFlightsDiffer(t *testing.T) {
	seen := map[uint64]bool{}
	for _, seed := range []uint64{0, 1, 2, math.MaxUint64} {
		for i := 1; i <= 5000; i++ {
			seen[vary.Seed(seed, i)] = true
		}
	}
	assert.Len(t, seen, 20000)
}

// The draws follow their law: the Kolmogorov distance to the law's own distribution, by another library
// for the normal one, stays below its 1 % point 1.628/sqrt(n) (Massey 1951, from memory).
func TestDrawsFollowTheirLaw(t *testing.T) {
	const n = 20000
	rows := []struct {
		v      harness.Vary
		reason string
	}{
		{harness.Vary{Name: "a", Low: -2, High: 5}, "even"},
		{harness.Vary{Name: "b", Low: 1e-9, High: 2e-9}, "even, small"},
		{harness.Vary{Name: "c", Law: harness.Normal, Low: -100, High: 100, Mean: 3, Sigma: 2}, "normal, hardly cut"},
		{harness.Vary{Name: "d", Law: harness.Normal, Low: 0, High: 60, Mean: 1, Sigma: 2}, "a wind that can't blow backwards"},
		{harness.Vary{Name: "e", Law: harness.Normal, Low: 0, High: 1, Mean: 0, Sigma: 0.5}, "half of it cut, the widest that is allowed"},
		{harness.Vary{Name: "f", Law: harness.Triangular, Low: -1, High: 4, Mode: 0.5}, "triangular"},
		{harness.Vary{Name: "g", Law: harness.Triangular, Low: 2, High: 4, Mode: 2}, "the least is the likeliest"},
	}
	for _, row := range rows {
		v := row.v
		cdf := func(x float64) float64 { return (x - v.Low) / (v.High - v.Low) }
		if v.Law == harness.Normal {
			d := distuv.Normal{Mu: v.Mean, Sigma: v.Sigma}
			cdf = func(x float64) float64 { return (d.CDF(x) - d.CDF(v.Low)) / (d.CDF(v.High) - d.CDF(v.Low)) }
		}
		if v.Law == harness.Triangular {
			cdf = distuv.NewTriangle(v.Low, v.High, v.Mode, nil).CDF
		}
		var xs []float64
		for i := range n {
			xs = append(xs, vary.Draw(&harness.Plan{Vary: []harness.Vary{v}}, vary.Seed(9, i+1))[0].Value)
		}
		slices.Sort(xs)
		far := 0.0
		for i, x := range xs {
			far = max(far, math.Abs(cdf(x)-float64(i)/n), math.Abs(cdf(x)-float64(i+1)/n))
		}
		assert.Less(t, far*math.Sqrt(n), 1.628, row.reason)
		assert.GreaterOrEqual(t, xs[0], v.Low, row.reason)
		assert.LessOrEqual(t, xs[n-1], v.High, row.reason)
	}
}

// Drawing from an unchecked law ends too, inside its range.
func TestHopelessLawEnds(t *testing.T) {
	v := harness.Vary{Name: "x", Law: harness.Normal, Low: 0, High: 1, Mean: 50, Sigma: 0.1}
	assert.Equal(t, 1.0, vary.Draw(&harness.Plan{Vary: []harness.Vary{v}}, 1)[0].Value)
}
