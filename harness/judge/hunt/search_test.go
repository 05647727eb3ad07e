package hunt

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/sim/noise"
)

// passing makes a margin's share a merit that passes above 0 and fails below.
func passing(share float64) Score {
	if share < 0 {
		return Score{harness.Fail, share}
	}
	return Score{harness.Pass, share}
}

// over searches a function of a point, as the one demand, and gives all flights.
func over(t testing.TB, opt Options, f func(Point) float64) []Flight {
	flights, err := Search(opt, func(ps []Point) ([][]Score, error) {
		var out [][]Score
		for _, p := range ps {
			out = append(out, []Score{passing(f(p))})
		}
		return out, nil
	})
	require.NoError(t, err)
	return flights
}

func square(x float64) float64 { return x * x }

// Known functions on the unit box, each with its least value in closed form.
func TestSearchFindsKnownMinima(t *testing.T) {
	middle := func(n int) []float64 { return slices.Repeat([]float64{0.5}, n) }
	for _, c := range []struct {
		reason  string
		own     []float64
		flights int
		f       func(Point) float64
		least   float64
		within  float64
	}{
		{"a bowl in one range", middle(1), 60, func(p Point) float64 { return 1 + square(p.At[0]-0.3) }, 1, 1e-4},
		{"a bowl in four ranges, off every axis of the start", middle(4), 400, func(p Point) float64 {
			return 1 + square(p.At[0]-0.13) + 2*square(p.At[1]-0.77) + 3*square(p.At[2]-0.41) + square(p.At[3]-0.9)
		}, 1, 5e-3},
		{"a narrow valley along the diagonal, 400 times as steep across", middle(2), 500, func(p Point) float64 {
			return 1 + 400*square(p.At[0]-p.At[1]) + square(p.At[0]+p.At[1]-1.5)
		}, 1, 0.02},
		{"Rosenbrock's valley (1960) on [-2, 2]", middle(2), 800, func(p Point) float64 {
			x, y := 4*p.At[0]-2, 4*p.At[1]-2
			return 1 + 100*square(y-x*x) + square(1-x)
		}, 1, 0.3},
		{"a corner of six ranges that only the orthogonal array or a descent finds", middle(6), 300, func(p Point) float64 {
			s := 10.0
			for i, x := range p.At {
				if i%2 == 1 {
					x = 1 - x
				}
				s -= x
			}
			return s
		}, 4, 1e-9},
		{"a sharp edge: the least of two slopes", middle(2), 300, func(p Point) float64 {
			return 1 + math.Abs(p.At[0]-0.6) + math.Abs(p.At[1]-p.At[0])
		}, 1, 0.05},
		{"only the third seed is bad, and only in one place", middle(2), 400, func(p Point) float64 {
			if p.Seed != 2 {
				return 2
			}
			return 1 + square(p.At[0]-0.2) + square(p.At[1]-0.8)
		}, 1, 0.01},
		{"a second valley that is deeper than the one at the start", []float64{0.2, 0.2}, 500, func(p Point) float64 {
			near, far := square(p.At[0]-0.2)+square(p.At[1]-0.2), square(p.At[0]-0.85)+square(p.At[1]-0.7)
			return min(1.5+near, 1+4*far)
		}, 1, 0.02},
	} {
		t.Run(c.reason, func(t *testing.T) {
			for seed := range uint64(10) {
				flights := over(t, Options{Own: c.own, Seeds: 3, Flights: c.flights, Seed: seed}, c.f)
				got := flights[Worst(flights, 0)].Scores[0].Share
				assert.GreaterOrEqual(t, got, c.least-1e-9, "below the least there is")
				assert.LessOrEqual(t, got, c.least+c.within, "search %d, worst %v", seed, flights[Worst(flights, 0)].At)
			}
		})
	}
}

// The failing region is a ball inside four ranges; its volume, pi^2 r^4 / 2 (DLMF 5.19.4), is the chance that a
// random flight fails, so that random flights need 1 / volume of them on average. Whoever is told margins needs
// fewer.
func TestSearchNeedsFewerFlightsThanChance(t *testing.T) {
	const r = 0.1
	chance := 2 / (math.Pi * math.Pi * r * r * r * r) // flights, 2026 of them
	var needed []int
	for seed := range uint64(21) {
		dice := noise.New(seed, "centre")
		centre := make([]float64, 4)
		for i := range centre {
			centre[i] = r + (1-2*r)*dice.Uniform() // so that all of the ball lies inside
		}
		flights := over(t, Options{Own: []float64{0.5, 0.5, 0.5, 0.5}, Seeds: 1, Flights: 2026, Seed: seed, UntilFail: true}, func(p Point) float64 {
			s := 0.0
			for i, x := range p.At {
				s += square(x - centre[i])
			}
			return math.Sqrt(s) - r
		})
		i := slices.IndexFunc(flights, func(f Flight) bool { return f.Scores[0].Answer == harness.Fail })
		require.GreaterOrEqual(t, i, 0, "search %d found none", seed)
		needed = append(needed, i+1)
	}
	slices.Sort(needed)
	t.Logf("random flights need %.0f on average; the search needed %d", chance, needed)
	assert.Less(t, needed[len(needed)/2], 150, "the median")
	assert.Less(t, needed[len(needed)-1], 400, "the most")
}

// A failing region that gives no slope at all is found by the space-filling part when it is large enough: the corners
// and half of the ranges' middles, for instance.
func TestSearchWithoutMargins(t *testing.T) {
	flights := over(t, Options{Own: []float64{0.5, 0.5}, Seeds: 1, Flights: 200, Seed: 1}, func(p Point) float64 {
		if p.At[0] > 0.6 && p.At[0] < 0.8 && p.At[1] < 0.4 && p.At[1] > 0.1 {
			return -1
		}
		return 1
	})
	assert.Equal(t, harness.Fail, flights[Worst(flights, 0)].Scores[0].Answer)
}

// Every demand is searched: the worst one first, then those that pass.
func TestEveryDemandIsSearched(t *testing.T) {
	targets := [][]float64{{0.1, 0.3}, {0.9, 0.3}, {0.4, 0.9}}
	flights, err := Search(Options{Own: []float64{0.5, 0.5}, Seeds: 1, Flights: 400, Seed: 4}, func(ps []Point) ([][]Score, error) {
		var out [][]Score
		for _, p := range ps {
			m := []Score{{harness.Pass, 1}} // the same whatever happens
			for i, at := range targets {
				m = append(m, passing(float64(i)+1+square(p.At[0]-at[0])+square(p.At[1]-at[1])))
			}
			out = append(out, m)
		}
		return out, nil
	})
	require.NoError(t, err)
	for i, at := range targets {
		got := flights[Worst(flights, i+1)]
		assert.InDelta(t, 0, distance(at, got.At), 0.06, "demand %d", i+1)
	}
}

// Whatever the answers are, a search keeps its budget, stays in the box, flies no point twice, begins with the files'
// own flight, and comes out the same again.
func TestSearchLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 7).Draw(t, "ranges")
		opt := Options{
			Own: rapid.SliceOfN(rapid.Float64Range(0, 1), n, n).Draw(t, "own"), Seeds: rapid.IntRange(1, 4).Draw(t, "seeds"),
			Flights: rapid.IntRange(1, 150).Draw(t, "flights"), Seed: rapid.Uint64().Draw(t, "seed"),
		}
		answers := rapid.Uint64().Draw(t, "answers")
		search := func() []Flight {
			flights, err := Search(opt, func(ps []Point) (out [][]Score, err error) {
				for _, p := range ps {
					dice := noise.New(answers, fmt.Sprint(p))
					out = append(out, []Score{{harness.Answer(3 * dice.Uniform()), dice.Normal()}, {harness.Pass, math.Inf(1)}})
				}
				return out, nil
			})
			require.NoError(t, err)
			return flights
		}
		flights := search()
		require.Len(t, flights, opt.Flights, "the budget is used, and kept")
		require.Equal(t, Point{opt.Own, 0}, flights[0].Point)
		seen := map[string]bool{}
		for _, f := range flights {
			for _, x := range f.At {
				require.True(t, x >= 0 && x <= 1, "%v", f.At)
			}
			require.True(t, f.Seed >= 0 && f.Seed < opt.Seeds)
			require.False(t, seen[fmt.Sprint(f.Point)])
			seen[fmt.Sprint(f.Point)] = true
		}
		require.Equal(t, flights, search())
	})
}

func TestSearchEndsWithAnError(t *testing.T) {
	full := errors.New("interrupted")
	flights, err := Search(Options{Own: []float64{0.5}, Seeds: 1, Flights: 50}, func(ps []Point) ([][]Score, error) {
		return [][]Score{{{harness.Pass, 1}}}, full
	})
	require.ErrorIs(t, err, full)
	require.Len(t, flights, 1, "what was flown before is kept")
}

func TestMerits(t *testing.T) {
	v := &harness.Verdict{Findings: []harness.Finding{
		{Answer: harness.Pass, Share: 0.5, HasMargin: true},
		{Answer: harness.Fail},
		{Answer: harness.Unsure},
		{Answer: harness.Pass},
		{Answer: harness.Fail, Share: math.NaN(), HasMargin: true},
		{Answer: harness.Unsure, Text: "the link is whole"},
	}}
	inf := math.Inf(1)
	assert.Equal(t, []Score{{harness.Pass, 0.5}, {harness.Fail, -inf}, {harness.Unsure, 0}, {harness.Pass, inf}, {harness.Fail, -inf}, {harness.Unsure, 0}}, Scores(v, 5))
	assert.Equal(t, []Score{{harness.Unsure, 0}}, Scores(&harness.Verdict{Findings: v.Findings[5:]}, 0))
	assert.Equal(t, []Score{{harness.Pass, inf}}, Scores(&harness.Verdict{}, 0), "no doubt is told")
	worst := slices.SortedFunc(slices.Values([]Score{{harness.Pass, -9}, {harness.Unsure, 0}, {harness.Fail, -0.1}, {harness.Fail, -inf}, {harness.Pass, -10}}), Score.Compare)
	assert.Equal(t, []Score{{harness.Fail, -inf}, {harness.Fail, -0.1}, {harness.Unsure, 0}, {harness.Pass, -10}, {harness.Pass, -9}}, worst)
}

// Any three columns of the corners hold all eight combinations equally often, and few ranges get every corner.
func TestCorners(t *testing.T) {
	for _, c := range []struct {
		dims, most, want int
		reason           string
	}{
		{1, 10, 2, "both ends"},
		{3, 8, 8, "all"},
		{6, 100, 64, "all"},
		{7, 100, 16, "an orthogonal array: 128 are too many"},
		{16, 1000, 64, "an orthogonal array"},
		{16, 10, 10, "as many as there may be"},
		{5, 1, 0, "no room for a corner and its mirror image"},
	} {
		got := corners(c.dims, c.most)
		assert.Len(t, got, c.want, c.reason)
		if c.want < 16 {
			continue
		}
		for i := range c.dims {
			for k := range i {
				for l := range k {
					n := map[[3]float64]int{}
					for _, at := range got {
						n[[3]float64{at[i], at[k], at[l]}]++
					}
					assert.Len(t, n, 8, c.reason)
					for _, m := range n {
						assert.Equal(t, c.want/8, m, c.reason)
					}
				}
			}
		}
	}
}

// Each coordinate has one point in each cell.
func TestHypercube(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dims, n := rapid.IntRange(1, 9).Draw(t, "ranges"), rapid.IntRange(1, 60).Draw(t, "points")
		got := hypercube(dims, n, noise.New(rapid.Uint64().Draw(t, "seed"), "test"))
		for d := range dims {
			var cells []int
			for _, at := range got {
				cells = append(cells, int(at[d]*float64(n)))
			}
			slices.Sort(cells)
			for i, c := range cells {
				require.Equal(t, i, c)
			}
		}
	})
}

// Directions are orthogonal unit vectors at every turn, the axes at even ones; at odd ones the first is often the way
// that the search goes.
func TestDirectionsAreOrthonormal(t *testing.T) {
	h := &searcher{dims: 5, random: noise.New(3, "test")}
	onwards := 0
	for turn := range 40 {
		way := []float64{0.3, 0, -0.1, float64(turn % 3), 1e-3}
		ds := h.directions(turn, way)
		if math.Abs(dot(way, ds[0])-norm(way)) < 1e-12 {
			onwards++
		}
		for i := range ds {
			for k := range ds {
				want := 0.0
				if i == k {
					want = 1
				}
				assert.InDelta(t, want, dot(ds[i], ds[k]), 1e-12)
			}
			if turn%2 == 0 {
				assert.Equal(t, 1.0, ds[i][i])
			}
		}
	}
	assert.Greater(t, onwards, 4)
	assert.Less(t, onwards, 16)
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// Of a discrete law only its own values are flown, shrunk or not.
func TestADiscreteLawIsSearchedByItsValues(t *testing.T) {
	s := Space{
		Vary:    []harness.Vary{{Name: "battery", Unit: "V", Law: harness.Discrete, Low: 7, High: 8.4, Of: []float64{7, 7.43, 8.4}, Shares: []float64{0.2, 0.2, 0.6}}},
		Written: []harness.Value{{Name: "battery", Value: 8.4, Unit: "V"}},
	}
	for x, want := range map[float64]float64{0: 7, 0.1: 7, 0.4: 7.43, 0.6: 7.43, 0.9: 8.4} {
		require.Equal(t, want, s.Case(Point{At: []float64{x}}).Values[0].Value, x)
	}
	holds := func(c Case) (bool, error) {
		return len(c.Values) == 1 && c.Values[0].Value > 7.2 && c.Values[0].Value < 8, nil
	}
	c, err := s.Shrink(s.Case(Point{At: []float64{0.4}}), holds)
	require.NoError(t, err)
	require.Equal(t, 7.43, c.Values[0].Value, "7.4 would be shorter, and is none of the values")
	edge, err := s.Edge(c, holds)
	require.NoError(t, err)
	require.False(t, edge.Found)
}
