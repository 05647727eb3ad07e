package chart

import (
	"math"
	"slices"
	"sort"
)

// Line is a curve against time; its class decides how it looks. T rises and has no NaN; an X that is NaN is
// not drawn.
type Line struct {
	Class string
	T, X  []float64 // T in s
}

// Add adds a point.
func (l *Line) Add(t, x float64) { l.T, l.X = append(l.T, t), append(l.X, x) }

// Len is the number of points.
func (l Line) Len() int { return len(l.T) }

// XY gives a point.
func (l Line) XY(i int) (t, x float64) { return l.T[i], l.X[i] }

// Thin keeps of each of n equal spans of time the first, least, greatest and last point: no peak is lost, and
// a long curve stays small.
func (l Line) Thin(n int) Line {
	if l.Len() <= 4*n {
		return l
	}
	span := (l.T[l.Len()-1] - l.T[0]) / float64(n)
	out := Line{Class: l.Class}
	for from := 0; from < l.Len(); {
		end := l.T[from] + span
		to, low, high := from, from, from
		for ; to < l.Len() && l.T[to] <= end; to++ {
			if l.X[to] < l.X[low] {
				low = to
			}
			if l.X[to] > l.X[high] {
				high = to
			}
		}
		keep := []int{from, low, high, to - 1}
		slices.Sort(keep)
		for _, k := range slices.Compact(keep) {
			out.Add(l.XY(k))
		}
		from = to
	}
	return out
}

// Straighten leaves out points that lie no further than off from the straight line between those that are
// kept on either side: from each kept point it goes on for as long as one line passes all points at that
// distance or less.
func (l Line) Straighten(off float64) Line {
	if l.Len() < 3 {
		return l
	}
	out := Line{Class: l.Class}
	out.Add(l.XY(0))
	at := 0
	least, most := math.Inf(-1), math.Inf(1) // slopes that pass all points since at
	for i := 1; i < l.Len(); i++ {
		dt := l.T[i] - l.T[at]
		slope := (l.X[i] - l.X[at]) / dt
		if i > at+1 && !(least <= slope && slope <= most) {
			at = i - 1
			out.Add(l.XY(at))
			least, most = math.Inf(-1), math.Inf(1)
			dt = l.T[i] - l.T[at]
		}
		least, most = max(least, (l.X[i]-off-l.X[at])/dt), min(most, (l.X[i]+off-l.X[at])/dt)
	}
	out.Add(l.XY(l.Len() - 1))
	return out
}

// Clip gives the curve between two times, with its ends on straight lines between points.
func (l Line) Clip(from, until float64) Line {
	out := Line{Class: l.Class}
	first := sort.SearchFloat64s(l.T, from)
	if first > 0 && first < l.Len() && l.T[first] > from && from <= until {
		out.Add(from, l.between(first-1, from))
	}
	i := first
	for ; i < l.Len() && l.T[i] <= until; i++ {
		out.Add(l.XY(i))
	}
	if i > 0 && i < l.Len() && l.T[i-1] < until && from <= until {
		if n := out.Len(); n == 0 || out.T[n-1] < until {
			out.Add(until, l.between(i-1, until))
		}
	}
	return out
}

// between is the value at t between point i and the next.
func (l Line) between(i int, t float64) float64 {
	return l.X[i] + (l.X[i+1]-l.X[i])*(t-l.T[i])/(l.T[i+1]-l.T[i])
}

// Range gives the least and the greatest value; ok is false when there is none.
func (l Line) Range() (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, x := range l.X {
		low, high = min(low, x), max(high, x)
	}
	return low, high, low <= high
}
