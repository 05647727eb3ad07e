package examine

import (
	"math"
	"slices"
	"sort"

	"drystage/harness/logs"
	"drystage/harness/logs/phases"
	"drystage/sim"
)

// signal is one channel against time. Masked samples are left out of every fit.
type signal struct {
	part   sim.Part
	axis   sim.Axis
	t, x   []float64
	mask   []bool
	sigma  float64   // of a sample's noise
	step   float64   // s, usual time between samples
	margin float64   // s around a break that a fit looks at
	fences []float64 // s, moments that no window of a fit crosses
	levels []level   // noise of loud phases
	rail   []bool    // samples that are bounds; nil: none
	likely []shape   // what the phases say brakes the rocket or is the part's own
	steep  []window  // where a bump was taken out, whose flanks leave more than noise: phases aren't looked for in it
}

// take makes a signal of a channel of a stream, without the samples that lack it, for a stretch of
// time.
func take(s *logs.Stream, channel int, axis sim.Axis, in window) *signal {
	g := &signal{part: s.Part, axis: axis}
	first := sort.Search(len(s.Times), func(i int) bool { return s.Times[i].Seconds() >= in.from })
	most := sort.Search(len(s.Times), func(i int) bool { return s.Times[i].Seconds() > in.until }) - first
	g.t, g.x = make([]float64, 0, max(most, 0)), make([]float64, 0, max(most, 0))
	for i := first; i < len(s.Times) && s.Times[i].Seconds() <= in.until; i++ {
		if x, ok := s.Value(i, channel); ok {
			g.t, g.x = append(g.t, s.Times[i].Seconds()), append(g.x, x)
		}
	}
	g.mask = make([]bool, len(g.t))
	g.sigma = noise(g.x)
	g.step = usualStep(g.t)
	if len(g.t) < 2 {
		g.step = s.Period().Seconds()
	}
	g.margin = 30 * g.step
	return g
}

// usualStep is the median time between neighbours, of some spread over all: a channel may be slower than its part, such as
// a pressure in every eighth row beside a temperature in each.
func usualStep(t []float64) float64 {
	n := min(len(t)-1, 4096)
	if n < 1 {
		return 0
	}
	steps := make([]float64, n)
	for i := range steps {
		at := i * (len(t) - 1) / n
		steps[i] = t[at+1] - t[at]
	}
	return median(steps)
}

// stepAround is the usual time between the samples around the step that ends at one: a logger may write fast in flight and
// slowly before and after it, so the slower side counts.
func stepAround(t []float64, i int) float64 {
	return max(usualStep(t[max(i-stepSide, 0):i]), usualStep(t[i:min(i+stepSide, len(t))]))
}

const stepSide = 8 // samples on each side whose steps are the usual ones

// noise estimates the standard deviation of white noise on a smooth signal from third differences,
// whose variance is 20 times that of a sample; the median keeps outliers out.
func noise(x []float64) float64 {
	if len(x) < 8 {
		return 0
	}
	d, least := make([]float64, 0, len(x)-3), math.Inf(1)
	for i := 3; i < len(x); i += 1 + len(x)/8192 { // enough for a median
		d = append(d, math.Abs(x[i]-3*x[i-1]+3*x[i-2]-x[i-3]))
		if s := math.Abs(x[i] - x[i-1]); s > 0 && s < least {
			least = s
		}
	}
	s := median(d) / 0.6745 / math.Sqrt(20)
	if !math.IsInf(least, 1) { // no finer than the steps of the output
		s = max(s, least/math.Sqrt(12))
	}
	return s
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	return phases.Middle(slices.Clone(x))
}

// index gives the first sample at or after a time.
func (g *signal) index(t float64) int { return sort.SearchFloat64s(g.t, t) }

// between gives the range of samples from one time up to another; an empty one where that is earlier.
func (g *signal) between(from, until float64) (i, j int) {
	i = g.index(from)
	return i, max(i, g.index(until))
}

// span gives the values from one time up to another.
func (g *signal) span(from, until float64) []float64 {
	i, j := g.between(from, until)
	return g.x[i:j]
}

// at gives the signal at a time by straight lines between samples.
func (g *signal) at(t float64) float64 {
	i := g.index(t)
	switch {
	case len(g.t) == 0:
		return 0
	case i == 0:
		return g.x[0]
	case i == len(g.t):
		return g.x[i-1]
	}
	f := (t - g.t[i-1]) / (g.t[i] - g.t[i-1])
	return g.x[i-1] + f*(g.x[i]-g.x[i-1])
}

func (g *signal) hide(from, until float64) {
	i, j := g.between(from, until)
	for ; i < j; i++ {
		g.mask[i] = true
	}
}

// hidden says that something between two times is masked.
func (g *signal) hidden(from, until float64) bool {
	i, j := g.between(from, until)
	return slices.Contains(g.mask[i:j], true)
}

// mean gives mean and standard deviation of what is not masked between two times.
func (g *signal) mean(from, until float64) (m, sd float64, n int) {
	i, j := g.between(from, until)
	var sum, sq float64
	for ; i < j; i++ {
		if !g.mask[i] {
			sum += g.x[i]
			n++
		}
	}
	if n == 0 {
		return 0, 0, 0
	}
	m = sum / float64(n)
	i, j = g.between(from, until)
	for ; i < j; i++ {
		if !g.mask[i] {
			sq += (g.x[i] - m) * (g.x[i] - m)
		}
	}
	return m, math.Sqrt(sq / float64(max(n-1, 1))), n
}
