package harness

import "math"

// Quantile gives the q quantile of sorted values by nearest rank, without interpolation: the smallest value such that
// at least the share q of all values isn't above it (Hyndman and Fan, The American Statistician 50(4), 1996,
// definition 1). ok is false without values.
func Quantile[T any](sorted []T, q float64) (x T, ok bool) {
	if len(sorted) == 0 {
		return x, false
	}
	const exact = 1e-9 // in binary 0.07 x 100 is slightly above 7, but the 7th value is meant
	rank := int(math.Ceil(q*float64(len(sorted)) - exact))
	return sorted[min(max(rank, 1), len(sorted))-1], true
}
