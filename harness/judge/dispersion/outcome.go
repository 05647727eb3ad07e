package dispersion

import (
	"cmp"
	"math"
	"slices"

	"drystage/harness"
)

// Outcome is the result of all flights of a sweep for one expectation.
type Outcome struct {
	Text          string
	Place         harness.Place
	Unit          string // of the margins
	harness.Count        // of the flights' answers
	// Measured is how many flights have a margin; the following numbers are of those. Least is the smallest,
	// Percentile5 the 5 % quantile, Median the 50 % one, both by nearest rank.
	Measured                   int
	Least, Percentile5, Median float64
	Bins                       []Bin
	// Worst is the index of the worst flight: failed before unsure before passed, then by margin, one without a margin
	// last.
	Worst int
	// Drivers are the varied parameters whose rank correlation with the margin is significant, the strongest first;
	// NoiseBound is the bound of significance.
	Drivers    []Driver
	NoiseBound float64
	Indices    []Index // Sobol indices, the largest total one first; nil: was not asked for, or too few margins
}

// Driver is a varied parameter, and Spearman's rank correlation of its value with a margin: above 0, the margin grows
// with it.
type Driver struct {
	Name string
	Rho  float64
}

// Outcomes gives the outcome of each expectation, in the order of the plan.
func (s *Sheet) Outcomes() []Outcome {
	var list []Outcome
	for i := range s.Plan.Expect {
		list = append(list, s.outcome(i))
	}
	return list
}

func (s *Sheet) outcome(i int) Outcome {
	e := &s.Plan.Expect[i]
	o := Outcome{Text: e.Text, Place: e.Place, Unit: s.Units[i], Worst: -1, Least: math.NaN(), Percentile5: math.NaN(), Median: math.NaN()}
	var margins []float64
	for k := range s.Flights {
		f := &s.Flights[k]
		o.Add(f.Answers[i])
		if !math.IsNaN(f.Margins[i]) {
			margins = append(margins, f.Margins[i])
		}
		if o.Worst < 0 || worse(f, &s.Flights[o.Worst], i) {
			o.Worst = k
		}
	}
	o.Measured, o.NoiseBound = len(margins), NoiseBound(len(margins))
	o.Drivers, o.Indices = s.drivers(i, o.NoiseBound), s.indices(i)
	if len(margins) == 0 {
		return o
	}
	o.Bins = Histogram(margins)
	slices.Sort(margins)
	o.Least = margins[0]
	o.Percentile5, _ = harness.Quantile(margins, 0.05)
	o.Median, _ = harness.Quantile(margins, 0.5)
	return o
}

// worse compares two flights in one expectation.
func worse(a, b *Flight, i int) bool {
	if d := a.Answers[i].Compare(b.Answers[i]); d != 0 {
		return d < 0
	}
	x, y := a.Margins[i], b.Margins[i]
	return x < y || math.IsNaN(y) && !math.IsNaN(x)
}

// drivers correlates each varied parameter with the margin of an expectation.
func (s *Sheet) drivers(i int, noise float64) (list []Driver) {
	for k := range s.Plan.Vary {
		var x, y []float64
		for n := range s.Flights {
			f := &s.Flights[n]
			if k < len(f.Values) && !math.IsNaN(f.Margins[i]) {
				x, y = append(x, f.Values[k].Value), append(y, f.Margins[i])
			}
		}
		if rho := Correlation(x, y); math.Abs(rho) > noise {
			list = append(list, Driver{s.Plan.Vary[k].Name, rho})
		}
	}
	slices.SortStableFunc(list, func(a, b Driver) int { return cmp.Compare(math.Abs(b.Rho), math.Abs(a.Rho)) })
	return list
}
