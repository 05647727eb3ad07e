package vary

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"drystage/harness"
)

// Points of 100 dimensions are those of SciPy, whose numbers come from the authors' published file.
func TestSobolPointsAreThePublishedOnes(t *testing.T) {
	f, err := os.Open("../../testdata/sobol.csv")
	require.NoError(t, err)
	defer f.Close()
	in := csv.NewReader(f)
	in.Comment = '#'
	rows, err := in.ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 10)
	for _, row := range rows {
		i, _ := strconv.Atoi(row[0])
		require.Len(t, row, 1+MostSobol)
		for dim, want := range row[1:] {
			require.Equal(t, want, strconv.Itoa(int(sobol(dim, uint32(i))>>2)), "point %d, coordinate %d", i, dim+1)
		}
	}
}

// Scrambling keeps what makes the points even: of 2^m points each 2^-m-th of a coordinate's range has one, and each rectangle of
// that size over the first two coordinates, which are a (0, 2)-sequence (Sobol 1967, from memory). Other seeds scramble otherwise.
func TestScrambledPointsStayEven(t *testing.T) {
	const m = 8
	seen := map[uint32]bool{}
	for _, seed := range []uint64{1, 2, 3, math.MaxUint64} {
		for wide := range m + 1 {
			boxes := map[[2]uint32]bool{}
			for i := range uint32(1 << m) {
				x, y := scramble(sobol(0, i), seed, "x"), scramble(sobol(1, i), seed, "y")
				boxes[[2]uint32{uint32(uint64(x) >> (32 - wide)), uint32(uint64(y) >> (32 - m + wide))}] = true
			}
			require.Len(t, boxes, 1<<m, "seed %d, %d bits of the first", seed, wide)
		}
		seen[scramble(sobol(0, 5), seed, "x")] = true
	}
	require.Len(t, seen, 4)
}

// A single scrambled point is uniform: the mean and the variance over many seeds are those of a uniform number.
func TestAScrambledPointIsUniform(t *testing.T) {
	const n = 4000
	x := make([]float64, n)
	for seed := range x {
		x[seed] = fraction(scramble(sobol(2, 77), uint64(seed), "z"))
	}
	mean, variance := stat.MeanVariance(x, nil)
	assert.InDelta(t, 0.5, mean, 4*math.Sqrt(1.0/12/n))
	assert.InDelta(t, 1.0/12, variance, 4*math.Sqrt(1.0/180/n))
}

// joint has all laws; the first four correlate.
func joint() *harness.Plan {
	return &harness.Plan{
		Vary: []harness.Vary{
			{Name: "a", Low: 2, High: 3},
			{Name: "b", Law: harness.Normal, Low: -9, High: 9, Mean: 1, Sigma: 2},
			{Name: "c", Law: harness.Triangular, Low: 0, High: 2, Mode: 2},
			{Name: "d", Law: harness.Discrete, Low: 1, High: 3, Of: []float64{1, 2, 3}, Shares: []float64{0.2, 0.5, 0.3}},
			{Name: "e", Low: 0, High: 1},
			{Name: "f", Law: harness.Normal, Low: 0, High: 9, Mean: 0.5, Sigma: 1},
		},
		Correlated: []harness.Correlated{{Pair: [2]string{"c", "a"}, Rho: 0.7}, {Pair: [2]string{"b", "a"}, Rho: -0.4}, {Pair: [2]string{"a", "d"}, Rho: 0.3}},
	}
}

func TestCorrelatedDraws(t *testing.T) {
	const n = 20000
	p := joint()
	columns := make([][]float64, len(p.Vary))
	for i := range n {
		for k, x := range Draw(p, Seed(3, i+1)) {
			columns[k] = append(columns[k], x.Value)
		}
	}
	rank := func(x []float64) []float64 {
		sorted, out := slices.Sorted(slices.Values(x)), make([]float64, n)
		for i := range x {
			at, _ := slices.BinarySearch(sorted, x[i])
			out[i] = float64(at)
		}
		return out
	}
	rows := []struct {
		a, b   int
		rho    float64
		within float64
		reason string
	}{
		{0, 2, 0.7, 0.02, "even with triangular"},
		{0, 1, -0.4, 0.02, "even with normal"},
		{0, 3, 0.3, 0.05, "a discrete one correlates a little less"},
		{0, 4, 0, 0.03, "in no pair"},
		{1, 2, 0, 0.03, "a pair that isn't listed"},
	}
	for _, row := range rows {
		assert.InDelta(t, row.rho, stat.Correlation(rank(columns[row.a]), rank(columns[row.b]), nil), row.within, row.reason)
	}
	two := 0
	for _, x := range columns[3] {
		if x == 2 {
			two++
		}
	}
	assert.InDelta(t, 0.5, float64(two)/n, 4*math.Sqrt(0.25/n), "the law stays as it is")
	assert.InDelta(t, 2.5, stat.Mean(columns[0], nil), 0.01)
}

// The scores of a flight give its values again, to the digits of a file.
func TestScoresGiveTheDraws(t *testing.T) {
	p := joint()
	for i := range 2000 {
		seed := Seed(8, i)
		want, got := Draw(p, seed), At(p, Scores(p, seed))
		for k := range want {
			require.InDelta(t, want[k].Value, got[k].Value, 2e-6*(1+math.Abs(want[k].Value)), "%s", want[k].Name)
		}
	}
}

// Far out in both tails a value still differs from its neighbours.
func TestTailsKeepTheirDigits(t *testing.T) {
	v := harness.Vary{Law: harness.Normal, Low: -100, High: 100, Mean: 3, Sigma: 2}
	for _, z := range []float64{-9, -5, 0, 5, 9} {
		assert.InDelta(t, 3+2*z, valueAt(&v, z), 1e-9)
	}
	v = harness.Vary{Low: -1, High: 1}
	assert.Equal(t, 1.0, valueAt(&v, 9))
	assert.Equal(t, -1.0, valueAt(&v, -9))
}

func TestNearestOfADiscreteLaw(t *testing.T) {
	v := &joint().Vary[3]
	for x, want := range map[float64]float64{-1: 1, 1.4: 1, 1.6: 2, 2.4: 2, 2.9: 3, 9: 3} {
		assert.Equal(t, want, Nearest(v, x), x)
	}
}

func TestLawTexts(t *testing.T) {
	p := joint()
	assert.Equal(t, "0 to 2, triangular around 2", LawText(&p.Vary[2]))
	assert.Equal(t, "1 (20 %), 2 (50 %), 3 (30 %)", LawText(&p.Vary[3]))
}

// Pinned: flight 17 of a sweep over a sequence is always the same flight.
func TestPointsArePinned(t *testing.T) {
	p := joint()
	p.Setup.Seed = 1
	flight := Plan(p, 17, harness.Sobol)
	assert.Equal(t, harness.Drawn{Seed: 1, Flight: 17, Points: harness.Sobol}, flight.Drawn)
	assert.Equal(t, Seed(1, 17), flight.Setup.Seed)
	assert.Equal(t, "[{of: a, is: 2.03793}, {of: b, is: 0.910306}, {of: c, is: 0.214144}, {of: d, is: 3}, {of: e, is: 0.753028}, {of: f, is: 1.41523}]", Texts(flight.Set))
}
