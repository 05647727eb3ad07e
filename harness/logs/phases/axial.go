package phases

import (
	"math"
	"slices"
)

// axial is the accelerometer along the rocket, made ready: without bad samples, and with outliers drawn in
// to a bound (winsorised, Hampel 1974) rather than left out, so that a liftoff is never lost.
type axial struct {
	t, x []float64 // s, m/s2 felt beyond what was felt at rest
	v    []float64 // m/s, its integral
	raw  []float64
	rest float64 // m/s2, felt on the pad
	g    float64 // m/s2
	step float64 // s, usual time between samples
	grid float64 // m/s2, the step of its numbers

	begun bool // the log begins in flight
}

// restAt takes a rest that nothing at the log's beginning tells.
func (a *axial) restAt(rest float64) {
	d := a.rest - rest
	a.rest, a.begun = rest, true
	for i := range a.x {
		a.x[i] += d
		a.v[i] += d * (a.t[i] - a.t[0])
	}
}

const (
	restSpan    = 0.5    // s at the beginning in which a log is taken to be at rest: what examine asks for
	boundSigmas = 5.0    // of the local scale beyond which a sample is drawn in: Hampel's usual 3 to 5
	scaleSpan   = 0.25   // s over which the local scale is taken; two neighbours count too
	madSigma    = 1.4826 // sigma over the median absolute deviation of normal noise
)

func newAxial(s Series, g float64) *axial {
	a := &axial{g: g}
	a.t, a.x = make([]float64, 0, len(s.T)), make([]float64, 0, len(s.T))
	for i, t := range s.T {
		if (s.Bad == nil || !s.Bad[i]) && (len(a.t) == 0 || t > a.t[len(a.t)-1]) {
			a.t, a.x = append(a.t, t), append(a.x, s.X[i])
		}
	}
	a.step = step(a.t)
	n := max(sorted(a.t, a.t[0]+restSpan), min(len(a.t), 5))
	a.rest = median(a.x[:n])
	a.raw, a.grid = slices.Clone(a.x), grid(a.x)
	drawIn(a.x, max(int(scaleSpan/a.step), 8), a.grid)
	a.v = make([]float64, len(a.x))
	for i := range a.x {
		a.x[i] -= a.rest
		if i > 0 {
			a.v[i] = a.v[i-1] + (a.x[i]+a.x[i-1])/2*(a.t[i]-a.t[i-1])
		}
	}
	return a
}

// drawIn bounds samples by what is usual around them: a running median of five, and the median absolute
// deviation from it in blocks of n. Calm samples stand on one step of their numbers, and on the next one now and then.
func drawIn(x []float64, n int, grid float64) {
	if len(x) < 5 {
		return
	}
	m := make([]float64, len(x))
	for i := range x {
		m[i] = median5(x, i)
	}
	var scale []float64
	buf := make([]float64, 0, n)
	for i := 0; i < len(x); i += n {
		buf = buf[:0]
		for k := i; k < min(i+n, len(x)); k++ {
			buf = append(buf, math.Abs(x[k]-m[k]))
		}
		scale = append(scale, Middle(buf))
	}
	for i := range x {
		b := i / n
		s := scale[b]
		if b > 0 {
			s = max(s, scale[b-1])
		}
		if b+1 < len(scale) {
			s = max(s, scale[b+1])
		}
		// Five samples' median has taken some of the noise with it: 0.73 of a deviation is left in
		// a residual's median, by simulation of normal noise.
		bound := boundSigmas*madSigma/0.73*s + max(0.05, grid)
		x[i] = min(max(x[i], m[i]-bound), m[i]+bound)
	}
}

// grid is the step of the numbers of a channel: the least difference between neighbours.
func grid(x []float64) float64 {
	least := math.Inf(1)
	for i := 1; i < len(x); i++ {
		if d := math.Abs(x[i] - x[i-1]); d > gridSame*math.Abs(x[i]) {
			least = min(least, d)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return min(least, gridMost)
}

const (
	gridSame = 1e-9 // of a number by which one differs from itself after units were turned
	gridMost = 4.0  // m/s2: a part for 400 g with 12 bits has steps of 2
)

// grain is the variance that the steps of the numbers make of a level between two of them, as Sheppard has it.
func (a *axial) grain() float64 { return a.grid * a.grid / 12 }

func median5(x []float64, i int) float64 {
	i = min(max(i, 2), len(x)-3)
	a, b, c, d, e := x[i-2], x[i-1], x[i], x[i+1], x[i+2]
	if a > b {
		a, b = b, a
	}
	if d > e {
		d, e = e, d
	}
	// The least of four and the greatest of four can't be the median.
	lo, hi := max(a, d), min(b, e)
	if lo > hi {
		lo, hi = hi, lo
	}
	return min(max(c, lo), hi)
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	return Middle(slices.Clone(x))
}

// Middle gives what sorting would put at half the length of y, in a time in proportion to it (Hoare 1961, Algorithm 65: find). It
// moves the values of y, which may not be empty.
func Middle(y []float64) float64 {
	k := len(y) / 2
	for lo, hi := 0, len(y)-1; lo < hi; {
		p, i, j := y[(lo+hi)/2], lo, hi
		for i <= j {
			for y[i] < p {
				i++
			}
			for p < y[j] {
				j--
			}
			if i <= j {
				y[i], y[j] = y[j], y[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return y[k]
		}
	}
	return y[k]
}

// step is the median time between samples.
func step(t []float64) float64 {
	n := min(len(t)-1, 2048)
	if n < 1 {
		return 1
	}
	d := make([]float64, n)
	for i := range d {
		k := i * (len(t) - 1) / n
		d[i] = t[k+1] - t[k]
	}
	return max(median(d), 1e-5)
}

// sorted gives the first place in t that is not before at.
func sorted(t []float64, at float64) int {
	i, _ := slices.BinarySearch(t, at)
	return i
}
