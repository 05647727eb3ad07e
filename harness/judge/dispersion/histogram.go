package dispersion

import (
	"math"
	"slices"
)

// Bin counts values from From up to, and without, To; the last bin of a histogram holds its end too.
type Bin struct {
	From, To float64
	Count    int
}

// maxBins is the most bins of a histogram.
const maxBins = 12

// Histogram counts values in bins of equal width, which is 1, 2 or 5 times a power of ten; the edges are multiples of it,
// so 0 is an edge if it is in the range. Equal values give one bin without width. Values must be finite.
func Histogram(values []float64) []Bin {
	if len(values) == 0 {
		return nil
	}
	low, high := slices.Min(values), slices.Max(values)
	width := binWidth(high - low)
	first, last := math.Floor(low/width), math.Floor(high/width)
	if !(width > 0) || math.IsInf(width, 0) || last-first >= 2*maxBins || math.IsInf(first, 0) || (first+1)*width <= first*width {
		return []Bin{{low, high, len(values)}} // all the same, or too close together for bins
	}
	bins := make([]Bin, int(last-first)+1)
	for i := range bins {
		bins[i].From, bins[i].To = (first+float64(i))*width, (first+float64(i)+1)*width
	}
	for _, x := range values {
		i := int(math.Floor(x/width) - first)
		bins[min(max(i, 0), len(bins)-1)].Count++
	}
	return bins
}

// binWidth gives the smallest round width by which at most mostBins-1 steps cover a span.
func binWidth(span float64) float64 {
	least := span / (maxBins - 1)
	if !(least > 0) {
		return 0
	}
	ten := math.Pow(10, math.Floor(math.Log10(least)))
	for _, k := range []float64{1, 2, 5, 10} {
		if k*ten >= least {
			return k * ten
		}
	}
	return 10 * ten
}
