package verdict

import (
	"math"

	"drystage/harness"
	"drystage/sim"
)

// number is a time in nanoseconds or a quantity in SI.
type number interface{ ~int64 | ~float64 }

// guard decides if a value somewhere in [low, high] is inside [least, most]: guarded acceptance as in JCGM 106:2012,
// 8.3.2, with a guard band of one expanded uncertainty (k = 2) on either side, and guarded rejection with the same band
// outside. A value on a bound is inside. With NaN the answer is unsure.
func guard[T number](least, most, low, high T) harness.Answer {
	switch {
	case least <= low && high <= most:
		return harness.Pass
	case high < least || most < low:
		return harness.Fail
	}
	return harness.Unsure
}

// instant is a measured time with its expanded uncertainty (k = 2).
type instant struct{ at, within sim.Time }

func (i instant) low() sim.Time  { return add(i.at, -i.within) }
func (i instant) high() sim.Time { return add(i.at, i.within) }

// since gives the time from an earlier instant to this one. The correlation of the two errors isn't known (one clock,
// or two arrivals), so the uncertainties are added: no correlation gives a larger uncertainty of the difference (JCGM
// 100:2008, 5.2.2; clause from memory).
func (i instant) since(earlier instant) instant {
	return instant{add(i.at, -earlier.at), add(i.within, earlier.within)}
}

// add adds two times and saturates at plus and minus sim.Never, which mean "open".
func add(a, b sim.Time) sim.Time {
	switch {
	case b > 0 && a > sim.Never-b:
		return sim.Never
	case b < 0 && a < -sim.Never-b:
		return -sim.Never
	}
	return a + b
}

// size is the magnitude of a time.
func size(t sim.Time) sim.Time {
	if t < 0 {
		return add(0, -t)
	}
	return t
}

// seconds converts seconds to a time; values that no run can reach become open ends.
func seconds(s float64) sim.Time {
	switch {
	case s > 9e9:
		return sim.Never
	case s < -9e9:
		return -sim.Never
	}
	return sim.Seconds(s)
}

// limits are the bounds of a number; an open side is infinite.
type limits struct{ least, most float64 }

func limitsOf(e *harness.Expectation) limits {
	l := limits{math.Inf(-1), math.Inf(1)}
	if e.HasLeast {
		l.least = e.Least
	}
	if e.HasMost {
		l.most = e.Most
	}
	return l
}

// margin says how far y is inside the limits, and that as a share of half their distance, or of the only limit. If that
// is 0, it is a share of 1 unit.
func (l limits) margin(y float64) (margin, part float64, ok bool) {
	margin = min(y-l.least, l.most-y)
	if math.IsInf(margin, 0) || math.IsNaN(margin) {
		return 0, 0, false
	}
	scale := (l.most - l.least) / 2
	switch {
	case math.IsInf(l.least, -1):
		scale = math.Abs(l.most)
	case math.IsInf(l.most, 1):
		scale = math.Abs(l.least)
	}
	return margin, share(margin, scale), true
}

// share divides by a scale that may be 0.
func share(margin, scale float64) float64 {
	if scale <= 0 {
		scale = 1
	}
	if s := margin / scale; !math.IsInf(s, 0) {
		return s
	}
	return margin
}
