package vary

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mathext"

	"drystage/harness"
)

// A score is where a parameter stands in its distribution: the number that is as far up in the standard normal one. Scores
// reach into both tails without a loss of digits, which a probability near 1 can't.

// below is the probability that a standard normal number is below a score.
func below(score float64) float64 { return math.Erfc(-score/math.Sqrt2) / 2 }

// scoreOf is the score with a probability, from 0 to 1, below it; it is finite.
func scoreOf(p float64) float64 {
	const least = 0x1p-54
	return mathext.NormalQuantile(min(max(p, least), 1-0x1p-53))
}

// valueAt gives the value of a parameter at a score, exact in both tails.
func valueAt(v *harness.Vary, score float64) float64 {
	p, q := below(score), below(-score)
	switch v.Law {
	case harness.Normal:
		return normalAt(v, score, p, q)
	case harness.Triangular:
		return triangularAt(v, p, q)
	case harness.Discrete:
		return v.Of[stepAt(v.Shares, p)]
	}
	if score > 0 {
		return v.High - float64((v.High-v.Low)*q)
	}
	return v.Low + float64((v.High-v.Low)*p)
}

// normalAt is that of a truncated normal law, by the probabilities below and above the score.
func normalAt(v *harness.Vary, score, p, q float64) float64 {
	low, high := below((v.Low-v.Mean)/v.Sigma), below((v.Mean-v.High)/v.Sigma) // what is cut off at each end
	inside := 1 - low - high
	if score > 0 {
		return v.Mean - float64(v.Sigma*mathext.NormalQuantile(min(high+float64(inside*q), 1)))
	}
	return v.Mean + float64(v.Sigma*mathext.NormalQuantile(min(low+float64(inside*p), 1)))
}

// scoreInNormal is the score of a value of a truncated normal law.
func scoreInNormal(v *harness.Vary, x float64) float64 {
	low, high := below((v.Low-v.Mean)/v.Sigma), below((v.Mean-v.High)/v.Sigma)
	inside := 1 - low - high
	if x > v.Mean {
		return -scoreOf((below((v.Mean-x)/v.Sigma) - high) / inside)
	}
	return scoreOf((below((x-v.Mean)/v.Sigma) - low) / inside)
}

// triangularAt inverts the two parabolas of the distribution function.
func triangularAt(v *harness.Vary, p, q float64) float64 {
	wide, rise := v.High-v.Low, v.Mode-v.Low
	if float64(p*wide) < rise {
		return v.Low + math.Sqrt(p*wide*rise)
	}
	return v.High - math.Sqrt(q*wide*(v.High-v.Mode))
}

// stepAt gives the index of a discrete law's value.
func stepAt(shares []float64, p float64) int {
	sum := 0.0
	for i, x := range shares[:len(shares)-1] {
		if sum += x; p < sum {
			return i
		}
	}
	return len(shares) - 1
}

// Nearest gives a value that the law allows: for a discrete one the nearest of its values.
func Nearest(v *harness.Vary, x float64) float64 {
	if v.Law != harness.Discrete {
		return min(max(x, v.Low), v.High)
	}
	i := sort.SearchFloat64s(v.Of, x)
	switch {
	case i == len(v.Of), i > 0 && x-v.Of[i-1] < v.Of[i]-x:
		return v.Of[i-1]
	}
	return v.Of[i]
}
