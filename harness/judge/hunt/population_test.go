package hunt

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/optimize"

	"drystage/harness"
	"drystage/sim/noise"
)

// planted is a defect in six ranges: it fails where a fault strikes at its moment with its strength, while the battery is low enough and
// the rail leans to one side: in a hundred-thousandth of the box. Its margin has ripples, as real ones do.
func planted(at []float64) float64 {
	centre := []float64{0.71, 0.32, 0.58, 0.44}
	d := 0.0
	for i, c := range centre {
		d += (at[i] - c) * (at[i] - c)
	}
	const radius = 0.0375 // pi^2/2 r^4 of a ball in four dimensions: 1e-5
	return math.Sqrt(d) - radius + 0.004*math.Sin(40*at[4])*math.Sin(40*at[5]) + 0.004
}

func scored(points []Point) ([][]Score, error) {
	out := make([][]Score, len(points))
	for i, p := range points {
		m := planted(p.At)
		answer := harness.Pass
		if m < 0 {
			answer = harness.Fail
		}
		out[i] = []Score{{answer, m}}
	}
	return out, nil
}

// A defect that 1,000 random flights miss is found by a population of as many in at least nine of ten searches.
func TestAPopulationFindsAPlantedDefect(t *testing.T) {
	found, byChance := 0, 0
	for seed := range uint64(10) {
		flights, err := Search(Options{Own: []float64{0.1, 0.9, 0.1, 0.9, 0.5, 0.5}, Seeds: 1, Flights: 1000, Seed: seed, Population: 12, UntilFail: true}, scored)
		require.NoError(t, err)
		if flights[Worst(flights, 0)].Scores[0].Answer == harness.Fail {
			found++
		}
		random := noise.New(seed, "by chance")
		for range 1000 {
			at := make([]float64, 6)
			for i := range at {
				at[i] = random.Uniform()
			}
			if planted(at) < 0 {
				byChance++
			}
		}
	}
	assert.GreaterOrEqual(t, found, 9)
	assert.LessOrEqual(t, byChance, 1)
}

// The path doesn't depend on how the flights of a generation are shared: one at a time, or all at once.
func TestThePathOfAPopulationIsTheSame(t *testing.T) {
	opt := Options{Own: []float64{0.5, 0.5, 0.5, 0.5, 0.5, 0.5}, Seeds: 2, Flights: 300, Seed: 3, Population: 10}
	want, err := Search(opt, scored)
	require.NoError(t, err)
	got, err := Search(opt, func(points []Point) (out [][]Score, err error) {
		for i := range points {
			one, _ := scored(points[i : i+1])
			out = append(out, one...)
		}
		return out, nil
	})
	require.NoError(t, err)
	require.Equal(t, want, got)
	require.Len(t, want, 300)
}

// A curved valley is followed to its end (H. H. Rosenbrock's function, scaled into the box) within about the evaluations that
// gonum's CMA-ES takes.
func TestAPopulationIsAsGoodAsALibrarys(t *testing.T) {
	valley := func(at []float64) float64 {
		s := 0.0
		for i := range len(at) - 1 {
			x, y := 4*at[i]-2, 4*at[i+1]-2
			s += 100*(y-x*x)*(y-x*x) + (1-x)*(1-x)
		}
		return s
	}
	const size, enough = 12, 1e-6
	ours := func(seed uint64) (n int) {
		p := newPopulation([]float64{0.3, 0.7, 0.3, 0.7}, size, noise.New(seed, "valley"))
		for {
			points := p.sample(size)
			n += size
			byValue(points, valley)
			if valley(points[0]) < enough || n > 20000 {
				return n
			}
			p.update(points)
		}
	}
	theirs := func(seed uint64) (n int) {
		found := false
		problem := optimize.Problem{Func: func(at []float64) float64 {
			f := valley(at)
			if !found {
				n++
				found = f < enough
			}
			return f
		}}
		_, err := optimize.Minimize(problem, []float64{0.3, 0.7, 0.3, 0.7}, &optimize.Settings{FuncEvaluations: 12000, Converger: optimize.NeverTerminate{}},
			&optimize.CmaEsChol{InitStepSize: firstStep, Population: size, Src: source{noise.New(seed, "theirs")}})
		require.NoError(t, err)
		require.True(t, found)
		return n
	}
	mine, library := 0, 0
	for seed := range uint64(5) {
		mine += ours(seed)
		library += theirs(seed)
	}
	t.Logf("5 searches: %d evaluations, the library's %d", mine, library)
	assert.Less(t, float64(mine), 1.3*float64(library))
}

// source is a source of random bits.
type source struct{ s *noise.Stream }

func (x source) Uint64() uint64 {
	return uint64(x.s.Uniform()*(1<<32))<<32 | uint64(x.s.Uniform()*(1<<32))
}

func byValue(points [][]float64, f func([]float64) float64) {
	for i := range points {
		for k := i; k > 0 && f(points[k]) < f(points[k-1]); k-- {
			points[k], points[k-1] = points[k-1], points[k]
		}
	}
}

func TestReflected(t *testing.T) {
	for x, want := range map[float64]float64{0.25: 0.25, -0.25: 0.25, 1.25: 0.75, 2.25: 0.25, -1.25: 0.75} {
		assert.InDelta(t, want, reflected(x), 1e-15, x)
	}
}
