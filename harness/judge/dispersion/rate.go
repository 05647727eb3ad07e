package dispersion

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Confidence is that of all intervals and bounds here.
const Confidence = 0.95

// Interval gives the two-sided 95 % confidence interval of a share, of which k of n were seen: the exact one
// of Clopper and Pearson, "The use of confidence or fiducial limits illustrated in the case of the
// binomial", Biometrika 26 (1934), in the form with quantiles of the beta distribution. It holds the true
// share at least 95 times in 100. Without any flight it is all from 0 to 1.
func Interval(k, n int) (low, high float64) {
	const tail = (1 - Confidence) / 2
	return lowerBound(k, n, tail), 1 - lowerBound(n-k, n, tail)
}

// AtLeast gives the one-sided 95 % lower bound of a share of which k of n were seen: what can be said to be
// exceeded, with the whole doubt on one side. Of n out of n it is 0.05^(1/n).
func AtLeast(k, n int) float64 { return lowerBound(k, n, 1-Confidence) }

// lowerBound is the share at which k or more of n come about with the probability tail.
func lowerBound(k, n int, tail float64) float64 {
	switch {
	case n <= 0 || k <= 0:
		return 0
	case k >= n:
		return math.Pow(tail, 1/float64(n))
	}
	return mathext.InvRegIncBeta(float64(k), float64(n-k+1), tail)
}
