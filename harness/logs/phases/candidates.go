package phases

import (
	"cmp"
	"math"
	"slices"
)

const (
	mostPeaks = 260  // edges by likelihood ratio: the cost is their square
	leastGain = 8.0  // nats that an edge's likelihood ratio must reach to be looked at: 1 in 3000 by chance
	gridStep  = 0.25 // s between edges that are looked at anyway
	mostGrid  = 250
)

// candidates lists the samples at which a segment may begin, between two samples: peaks of the
// likelihood ratio of a change of mean and variance in windows of three sizes (Niu and Zhang 2012, The
// screening and ranking algorithm), and a grid.
func (a *axial) candidates(from, until int) []int {
	type peak struct {
		at   int
		gain float64
	}
	n := until - from
	s1, s2 := make([]float64, n+1), make([]float64, n+1)
	for i := range n {
		x := a.x[from+i]
		s1[i+1], s2[i+1] = s1[i]+x, s2[i]+x*x
	}
	var peaks []peak
	for _, span := range []float64{0.08, 0.25, 0.8} {
		w := max(int(span/a.step), 3)
		if 2*w >= n {
			continue
		}
		least := max(0.05*0.05, a.grain()) // (m/s2)2: steps of a part's output make no noise
		variance := func(i, j int) float64 {
			k := float64(j - i)
			m := (s1[j] - s1[i]) / k
			return max((s2[j]-s2[i])/k-m*m, 0) + least
		}
		gain := make([]float64, n)
		for i := w; i+w <= n; i++ {
			gain[i] = float64(w) * (math.Log(variance(i-w, i+w)) - 0.5*math.Log(variance(i-w, i)) - 0.5*math.Log(variance(i, i+w)))
		}
		near := max(w/3, 1)
		for i := w; i+w <= n; i++ {
			if gain[i] > leastGain && gain[i] >= slices.Max(gain[max(i-near, 0):min(i+near+1, n)]) {
				peaks = append(peaks, peak{from + i, gain[i]})
			}
		}
	}
	slices.SortFunc(peaks, func(a, b peak) int {
		return cmp.Or(cmp.Compare(b.gain, a.gain), cmp.Compare(a.at, b.at))
	})
	var out []int
	for _, p := range peaks[:min(len(peaks), mostPeaks)] {
		out = append(out, p.at)
	}
	every := max(int(gridStep/a.step), n/mostGrid, 2)
	for i := from; i <= until; i += every {
		out = append(out, i)
	}
	out = append(out, from, until)
	slices.Sort(out)
	return slices.Compact(out)
}
