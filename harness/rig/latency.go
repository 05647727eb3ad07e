package rig

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"drystage/harness"
)

// Latencies are measured delays of one path.
type Latencies []time.Duration

// Quantile gives the smallest measured delay that at least the share q of all does not exceed (the
// nearest rank; no interpolation between what was seen). It is 0 when nothing was measured.
func (l Latencies) Quantile(q float64) time.Duration {
	x, _ := harness.Quantile(slices.Sorted(slices.Values(l)), q)
	return x
}

// Within is the half-width about the median that holds at least 99.9 % of the measured delays. It is used as an
// expanded uncertainty with k = 2, for which JCGM 100:2008, 6.2.2 and G.1.3, expects about 95 %: so it is rather too
// large, because delays have a long tail.
func (l Latencies) Within() time.Duration {
	median := l.Quantile(0.5)
	apart := make(Latencies, len(l))
	for i, d := range l {
		apart[i] = (d - median).Abs()
	}
	return apart.Quantile(0.999)
}

// steps are the upper ends of the histogram's bars; each is about twice the one before.
var steps = [...]time.Duration{
	1e3, 2e3, 5e3, 10e3, 20e3, 50e3, 100e3, 200e3, 500e3, 1e6, 2e6, 5e6, 10e6, 20e6, 50e6, 100e6, math.MaxInt64,
}

// String draws a histogram and prints p50, p99, p99.9 and the greatest delay.
func (l Latencies) String() string {
	const width = 50
	var counts [len(steps)]int
	for _, d := range l {
		counts[slices.IndexFunc(steps[:], func(s time.Duration) bool { return d <= s })]++
	}
	most := slices.Max(counts[:])
	var b strings.Builder
	first, last := len(counts), -1
	for i, n := range counts {
		if n > 0 {
			first, last = min(first, i), i
		}
	}
	for i := first; i <= last; i++ {
		name := "more"
		if i < len(steps)-1 {
			name = "to " + steps[i].String()
		}
		fmt.Fprintf(&b, "%9s %6d %s\n", name, counts[i], strings.Repeat("#", (counts[i]*width+most-1)/most))
	}
	fmt.Fprintf(&b, "p50 %s  p99 %s  p99.9 %s  max %s  (%d edges)\n",
		threeDigits(l.Quantile(0.5)), threeDigits(l.Quantile(0.99)), threeDigits(l.Quantile(0.999)), threeDigits(l.Quantile(1)), len(l))
	return b.String()
}

// threeDigits rounds a delay to three digits.
func threeDigits(d time.Duration) string {
	unit := time.Duration(1)
	for d/unit >= 1000 {
		unit *= 10
	}
	return d.Round(unit).String()
}
