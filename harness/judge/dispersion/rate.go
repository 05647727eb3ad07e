package dispersion

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Confidence is the confidence level of all intervals and bounds here.
const Confidence = 0.95

// Interval gives the two-sided 95 % confidence interval of a share after k of n: the exact one of Clopper and Pearson,
// "The use of confidence or fiducial limits illustrated in the case of the binomial", Biometrika 26 (1934), in the form
// with quantiles of the beta distribution. It contains the true share at least 95 times in 100. Without any flight it is
// 0 to 1.
func Interval(k, n int) (low, high float64) {
	const tail = (1 - Confidence) / 2
	return lowerBound(k, n, tail), 1 - lowerBound(n-k, n, tail)
}

// AtLeast gives the one-sided 95 % lower confidence bound of a share after k of n. For n of n it is 0.05^(1/n).
func AtLeast(k, n int) float64 { return lowerBound(k, n, 1-Confidence) }

// lowerBound is the share at which k or more of n have the probability tail.
func lowerBound(k, n int, tail float64) float64 {
	switch {
	case n <= 0 || k <= 0:
		return 0
	case k >= n:
		return math.Pow(tail, 1/float64(n))
	}
	return mathext.InvRegIncBeta(float64(k), float64(n-k+1), tail)
}
