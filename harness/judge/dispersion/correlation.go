package dispersion

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Correlation gives Spearman's rank correlation of two lists of equal length: Pearson's coefficient of
// their ranks, where equal values share the mean of theirs. It is NaN for fewer than two pairs, and where
// one list is all the same.
func Correlation(x, y []float64) float64 {
	if len(x) < 2 || len(x) != len(y) {
		return math.NaN()
	}
	rx, ry := ranks(x), ranks(y)
	if slices.Min(rx) == slices.Max(rx) || slices.Min(ry) == slices.Max(ry) {
		return math.NaN()
	}
	return stat.Correlation(rx, ry, nil)
}

// ranks gives each value's rank from 1, equal ones the mean of theirs.
func ranks(x []float64) []float64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return a - b
	})
	out := make([]float64, len(x))
	for from := 0; from < len(order); {
		to := from
		for to+1 < len(order) && x[order[to+1]] == x[order[from]] {
			to++
		}
		for i := from; i <= to; i++ {
			out[order[i]] = float64(from+to)/2 + 1
		}
		from = to + 1
	}
	return out
}

// NoiseBound gives what the size of a rank correlation of n pairs that have nothing to do with each other stays
// below 99 times in 100: r with t = r sqrt((n-2)/(1-r2)) at the 0.5 % point of Student's distribution with
// n-2 degrees of freedom, the usual approximation, which SciPy's spearmanr makes as well. It is 1, which
// nothing is beyond, where there are fewer than five pairs.
func NoiseBound(n int) float64 {
	if n < 5 {
		return 1
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 2)}.Quantile(0.995)
	return t / math.Sqrt(float64(n-2)+t*t)
}
