package vary

import (
	"math"
	"slices"

	"drystage/harness"
)

// Joint says whether varied parameters can have all of these correlations at once: whether their matrix is positive definite.
func Joint(vary []harness.Vary, pairs []harness.Correlated) bool {
	_, ok := triangle(vary, pairs)
	return ok
}

// triangle gives the rows of the lower triangular factor (Cholesky) of the matrix of correlations of the scores, each up to the
// diagonal. Rank correlation rho is that of scores with Pearson's 2 sin(pi rho/6) (K. Pearson, Drapers' Company Research
// Memoirs, Biometric Series IV, 1907), whatever the laws. A parameter in no pair has a row of zeros before its 1, and is left
// as it is.
func triangle(vary []harness.Vary, pairs []harness.Correlated) (rows [][]float64, ok bool) {
	rows = make([][]float64, len(vary))
	for i := range rows {
		rows[i] = make([]float64, i+1)
		rows[i][i] = 1
	}
	index := func(name string) int {
		return slices.IndexFunc(vary, func(v harness.Vary) bool { return v.Name == name })
	}
	for _, c := range pairs {
		if a, b := index(c.Pair[0]), index(c.Pair[1]); a >= 0 && b >= 0 {
			rows[max(a, b)][min(a, b)] = 2 * math.Sin(math.Pi/6*c.Rho)
		}
	}
	for i, r := range rows {
		for k := range r {
			for m := range k {
				r[k] -= float64(r[m] * rows[k][m])
			}
			if k < i {
				r[k] /= rows[k][k]
			}
		}
		if !(r[i] > 1e-9) {
			return nil, false
		}
		r[i] = math.Sqrt(r[i])
	}
	return rows, true
}

// mix gives scores their correlations.
func mix(p *harness.Plan, scores []float64) []float64 {
	if len(p.Correlated) == 0 {
		return scores
	}
	rows, ok := triangle(p.Vary, p.Correlated)
	if !ok {
		return scores // no plan that was read
	}
	out := make([]float64, len(scores))
	for i, r := range rows {
		for k, x := range r {
			out[i] += float64(x * scores[k])
		}
	}
	return out
}

// correlated says that a parameter is in a pair with another of the plan.
func correlated(p *harness.Plan, name string) bool {
	return slices.ContainsFunc(p.Correlated, func(c harness.Correlated) bool { return c.Pair[0] == name || c.Pair[1] == name })
}
