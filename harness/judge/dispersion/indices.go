package dispersion

import (
	"cmp"
	"math"
	"slices"

	"drystage/harness"
)

// Index tells how much of a margin's variance a varied parameter explains. First is its first-order Sobol index, the share that
// would go if the parameter were known; Total is its total index, which adds its part in all interactions: what would
// remain if all others were known.
type Index struct {
	Name         string
	First, Total Estimate
}

// Estimate is an estimated number with its two-sided 95 % interval.
type Estimate struct{ Value, Low, High float64 }

// ByChance is the name of all that a flight's seed determines: turbulence, noise, scatter.
const ByChance = "seed"

// minRows is the fewest pairs of flights from which indices are computed.
const minRows = 20

// Pairs are the pairs of flights from which Sobol indices are estimated. Flights 2j-1 and 2j of the sweep are the independent
// rows A and B of pair j, from 1.
func (s *Sheet) Pairs() int { return len(s.Flights) / 2 }

// Mixed gives the flights that the indices need beside the drawn ones, pair after pair: each is the pair's first flight with one
// parameter of the second, in the order of the plan's Vary, and at last with its seed.
func (s *Sheet) Mixed() (seeds []uint64, values [][]harness.Value) {
	for j := range s.Pairs() {
		a, b := &s.Flights[2*j], &s.Flights[2*j+1]
		for k := range len(a.Values) + 1 {
			seed, x := a.Seed, slices.Clone(a.Values)
			if k < len(x) {
				x[k] = b.Values[k]
			} else {
				seed = b.Seed
			}
			seeds, values = append(seeds, seed), append(values, x)
		}
	}
	return seeds, values
}

// AddMixed adds the verdict of the next flight that Mixed lists.
func (s *Sheet) AddMixed(v *harness.Verdict) {
	margins := make([]float64, len(s.Plan.Expect))
	for i := range margins {
		margins[i] = math.NaN()
		if g := &v.Findings[i]; g.HasMargin && !math.IsInf(g.Margin, 0) {
			margins[i] = g.Margin
		}
	}
	s.mixed = append(s.mixed, margins)
	s.Further.Add(v.Answer)
}

// indices gives the indices of an expectation's margin, the largest total one first; nil without mixed flights, or with too few
// pairs whose flights all have a margin.
func (s *Sheet) indices(i int) []Index {
	n := len(s.Plan.Vary) + 1
	var a, b []float64
	ab := make([][]float64, n)
	for j := range min(s.Pairs(), len(s.mixed)/n) {
		row := []float64{s.Flights[2*j].Margins[i], s.Flights[2*j+1].Margins[i]}
		for k := range n {
			row = append(row, s.mixed[j*n+k][i])
		}
		if slices.ContainsFunc(row, math.IsNaN) {
			continue
		}
		a, b = append(a, row[0]), append(b, row[1])
		for k := range n {
			ab[k] = append(ab[k], row[2+k])
		}
	}
	if len(a) < minRows || slices.Min(a) == slices.Max(a) {
		return nil
	}
	var list []Index
	for k := range n {
		name := ByChance
		if k < len(s.Plan.Vary) {
			name = s.Plan.Vary[k].Name
		}
		first, total := Sobol(a, b, ab[k])
		list = append(list, Index{name, first, total})
	}
	slices.SortStableFunc(list, func(x, y Index) int { return cmp.Compare(y.Total.Value, x.Total.Value) })
	return list
}

// Sobol estimates the indices of one input from a model's outputs at rows A, at independent rows B, and at rows of A with that
// input from B: the first-order index by A. Saltelli and others, "Variance based sensitivity analysis of model output", Computer
// Physics Communications 181, 2010, table 2, line b, and the total one by M. J. W. Jansen, "Analysis of variance designs for model
// output", Computer Physics Communications 117, 1999. The intervals are those of a ratio of means, for many rows.
func Sobol(a, b, ab []float64) (first, total Estimate) {
	n := len(a)
	mean := 0.0
	for i := range n {
		mean += (a[i] + b[i]) / float64(2*n)
	}
	alone, own, all := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		alone[i] = (b[i] - mean) * (ab[i] - a[i])
		own[i] = (a[i] - ab[i]) * (a[i] - ab[i]) / 2
		all[i] = ((a[i]-mean)*(a[i]-mean) + (b[i]-mean)*(b[i]-mean)) / 2
	}
	return ratio(alone, all), ratio(own, all)
}

// ratio estimates the ratio of two means, with the standard error of its linearization.
func ratio(x, y []float64) Estimate {
	n := float64(len(x))
	var sx, sy, square float64
	for i := range x {
		sx, sy = sx+x[i], sy+y[i]
	}
	r := sx / sy
	for i := range x {
		square += (x[i] - r*y[i]) * (x[i] - r*y[i])
	}
	half := normal95 * math.Sqrt(square/(n-1)*n) / sy
	return Estimate{r, r - half, r + half}
}

// normal95 is the 97.5 % point of the standard normal distribution.
const normal95 = 1.959963984540054
