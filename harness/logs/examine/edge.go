package examine

import (
	"cmp"
	"math"
	"slices"

	"drystage/harness/logs/phases"
)

// edge is a place where a channel jumps: straight lines through the samples before and after it don't
// meet there.
type edge struct {
	t     float64
	jump  float64
	score float64 // jump over its standard deviation, or over what is usual around it
	taps  int
}

const (
	wantedScore = 7.0
	usual       = 2.5 // times the median jump around counts as one standard deviation
)

var scales = []int{4, 12, 36}

// edges finds the jumps of a channel, the strongest first. A jump counts when it stands out from noise
// and from what the signal does around it anyway.
func (g *signal) edges(from, until float64) []edge {
	var out []edge
	for _, taps := range scales {
		if len(g.x) < 8*taps {
			continue
		}
		out = append(out, g.edgesOf(taps, from, until)...)
	}
	slices.SortStableFunc(out, func(a, b edge) int { return cmp.Compare(math.Abs(b.score), math.Abs(a.score)) })
	var kept []edge
	for _, e := range out {
		if !slices.ContainsFunc(kept, func(k edge) bool { return math.Abs(k.t-e.t) < float64(min(k.taps, e.taps))*g.step }) {
			kept = append(kept, e)
		}
	}
	return kept
}

// lineWeights gives the weights that carry a straight line through taps samples half a sample beyond its
// end, the nearest sample first, and the standard deviation of the difference of two such lines.
func lineWeights(taps int) (w []float64, sd float64) {
	w = make([]float64, taps)
	mid := float64(taps-1) / 2
	sxx := 0.0
	for i := range w {
		sxx += (float64(i) - mid) * (float64(i) - mid)
	}
	for i := range w {
		w[i] = 1/float64(taps) + (-0.5-mid)*(float64(i)-mid)/sxx
		sd += 2 * w[i] * w[i]
	}
	return w, math.Sqrt(sd)
}

func (g *signal) edgesOf(taps int, from, until float64) []edge {
	w, sd := lineWeights(taps)
	// Enough around the stretch to know what is usual there.
	start, end := max(g.index(from)-9*taps, 0), min(g.index(until)+9*taps, len(g.x))
	if end-start < 2*taps+2 {
		return nil
	}
	g = &signal{t: g.t[start:end], x: g.x[start:end], mask: g.mask[start:end], sigma: g.sigma, step: g.step, levels: g.levels}
	n := len(g.x)
	jump := make([]float64, n)
	bad := 0 // masked samples among the 2 taps around i
	for i := range min(2*taps, n) {
		if g.mask[i] {
			bad++
		}
	}
	for i := taps; i+taps <= n; i++ {
		if bad == 0 && g.t[i+taps-1]-g.t[i-taps] < (2*float64(taps)+1)*g.step {
			for k, c := range w {
				jump[i] += c * (g.x[i+k] - g.x[i-1-k])
			}
		}
		if g.mask[i-taps] {
			bad--
		}
		if i+taps < n && g.mask[i+taps] {
			bad++
		}
	}
	around := blocks(jump, 4*taps)
	var out []edge
	for i := taps; i+taps <= n; i++ {
		b := i / (4 * taps)
		scale := max(sd*g.loudest(g.t[i-taps], g.t[i+taps-1]), usual*max(around[max(b-1, 0)], around[min(b+1, len(around)-1)]))
		if s := jump[i] / scale; math.Abs(s) > wantedScore && peak(jump, i, taps/2+1) && g.t[i] >= from && g.t[i] <= until {
			out = append(out, edge{g.t[i] - g.step/2, jump[i], s, taps})
		}
	}
	return out
}

// blocks gives the median of |x| in blocks of n.
func blocks(x []float64, n int) []float64 {
	out := make([]float64, 0, len(x)/n+1)
	buf := make([]float64, 0, n)
	for i := 0; i < len(x); i += n {
		buf = buf[:0]
		for _, v := range x[i:min(i+n, len(x))] {
			buf = append(buf, math.Abs(v))
		}
		out = append(out, phases.Middle(buf))
	}
	return out
}

// peak says that |x| has its greatest value within r of i there.
func peak(x []float64, i, r int) bool {
	for k := max(i-r, 0); k <= min(i+r, len(x)-1); k++ {
		if math.Abs(x[k]) > math.Abs(x[i]) || k < i && x[k] == x[i] {
			return false
		}
	}
	return true
}
