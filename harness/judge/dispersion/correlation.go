package dispersion

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// Correlation gives Spearman's rank correlation of two lists of equal length: Pearson's coefficient of their ranks, where
// equal values have the mean of their ranks. It is NaN for fewer than two pairs, and if all values of a list are equal.
func Correlation(x, y []float64) float64 {
	if len(x) < 2 || len(x) != len(y) {
		return math.NaN()
	}
	rx, ry := ranks(x), ranks(y)
	if slices.Min(rx) == slices.Max(rx) || slices.Min(ry) == slices.Max(ry) {
		return math.NaN()
	}
	var xx, yy, xy float64
	mean := float64(len(x)+1) / 2 // of ranks
	for i := range rx {
		dx, dy := rx[i]-mean, ry[i]-mean
		xx, yy, xy = xx+dx*dx, yy+dy*dy, xy+dx*dy
	}
	return xy / math.Sqrt(xx*yy)
}

// ranks gives each value's rank from 1; equal values have the mean of their ranks.
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

// NoiseBound gives the 99 % bound of the magnitude of the rank correlation of n independent pairs: r with
// t = r sqrt((n-2)/(1-r2)) at the 0.5 % point of Student's distribution with n-2 degrees of freedom, the usual
// approximation, as in SciPy's spearmanr. For fewer than five pairs it is 1, which is never exceeded.
func NoiseBound(n int) float64 {
	if n < 5 {
		return 1
	}
	// Student's distribution by the incomplete beta function (Abramowitz and Stegun, 26.7.1): the probability of more
	// than t either way is I of nu/(nu+t2), and that is 1-r2.
	return math.Sqrt(1 - mathext.InvRegIncBeta(float64(n-2)/2, 0.5, 2*0.005))
}
