package harness

import "math"

// Quantile gives the smallest of sorted values that is not exceeded by at least the share q of all: the nearest
// rank, with no interpolation between what was seen (Hyndman and Fan, The American Statistician 50(4), 1996,
// definition 1). ok is false when there are no values.
func Quantile[T any](sorted []T, q float64) (x T, ok bool) {
	if len(sorted) == 0 {
		return x, false
	}
	const exact = 1e-9 // 0.07 x 100 is a little more than 7 in binary, and is the 7th value all the same
	rank := int(math.Ceil(q*float64(len(sorted)) - exact))
	return sorted[min(max(rank, 1), len(sorted))-1], true
}
