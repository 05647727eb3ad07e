package examine

import (
	"math"
	"slices"
)

// shock is a sudden shaking of the board: stages that part, a charge, a line stretch, the ground.
type shock struct {
	at, within float64 // s, of its first instant, which lies between two samples
	until      float64 // s, of its last sample that stands out
	score      float64 // standard deviations of its greatest sample
	axes       int     // that show it
}

const (
	shockTaps   = 4    // samples before one that foretell it by a straight line
	shockSpan   = 0.5  // s over which the usual error of that is taken
	shockScore  = 9.0  // standard deviations: beyond chance in the longest log, and beyond vibration's peaks
	shockSecond = 4.0  // standard deviations on another axis: a sensor's own spike is on one
	shockLone   = 14.0 // standard deviations where the log has one axis only
	loneLongest = 0.08 // s that a blow along the rocket's axis lasts; common practice, no source
	shockRings  = 5.0  // standard deviations that still belong to a shock
	shockGap    = 0.04 // s without that which end it
)

// shocks lists the shocks between two instants, of those found before anything was mended.
func (e *examiner) shocks(from, until float64) (out []shock) {
	for _, s := range e.jolts {
		if s.at >= from && s.at < until {
			out = append(out, s)
		}
	}
	return out
}

// allShocks lists the shocks of the log, and those that only one axis shows. A sample belongs to one where it differs from what the samples before
// it foretell by far more than is usual around it, on two axes at once.
func (e *examiner) allShocks() (out, lone []shock) {
	a := e.accel[0]
	if a == nil {
		return nil, nil
	}
	i, j := 0, len(a.t)
	lo, hi := shockTaps, len(a.t)
	if hi-lo < 4*shockTaps {
		return nil, nil
	}
	var all [][]float64
	for _, g := range e.accel {
		if g != nil && len(g.t) == len(a.t) {
			all = append(all, g.surprises(lo, hi))
		}
	}
	greatest := func(k int) (most float64, axes int) {
		for _, z := range all {
			most = max(most, z[k-lo])
			if z[k-lo] > shockSecond {
				axes++
			}
		}
		return most, axes
	}
	for k := max(i, lo+1); k < min(j, hi); k++ {
		z, axes := greatest(k)
		if z < shockScore || axes < 2 && z < shockLone {
			continue
		}
		first := k
		for first > lo+1 {
			if z, _ := greatest(first - 1); z < shockRings || a.t[first]-a.t[first-1] > 1.5*a.step {
				break
			}
			first--
		}
		s := shock{at: (a.t[first] + a.t[first-1]) / 2, within: shockWithin * (a.t[first] - a.t[first-1]), score: z, axes: axes}
		last := k
		for k++; k < hi && a.t[k]-a.t[last] < max(shockGap, 2.5*a.step); k++ {
			if z, n := greatest(k); z > shockRings {
				last, s.score, s.axes = k, max(s.score, z), max(s.axes, n)
			}
		}
		s.until = a.t[last]
		k = last + 1
		if s.axes > 1 || len(all) == 1 {
			out = append(out, s)
		} else if s.until-s.at < max(loneLongest, 3*a.step) && !e.shifts(first, last) { // what lasts, or stays, is no blow
			lone = append(lone, s)
		}
	}
	return out, lone
}

// shifts says that an axis goes on after some samples by most of what it jumped there: a level that changes is no blow.
func (e *examiner) shifts(first, last int) bool {
	for _, g := range e.accel {
		if g == nil || first < shiftTaps || last+1+shiftTaps > len(g.x) {
			continue
		}
		before, after := median(g.x[first-shiftTaps:first]), median(g.x[last+1:last+1+shiftTaps])
		most := 0.0
		for _, x := range g.x[first : last+1] {
			most = max(most, math.Abs(x-before))
		}
		if math.Abs(after-before) > shiftShare*most && math.Abs(after-before) > shockScore*g.sigma {
			return true
		}
	}
	return false
}

const (
	shiftTaps  = 5   // samples on each side of a blow whose levels are compared
	shiftShare = 0.6 // of its greatest sample, by which they differ where the level changed
)

const shockWithin = 0.58 // of a sample's period: two standard deviations of an instant that lies anywhere in it

// surprises gives by how many of its usual errors each sample differs from what the line through those before it says.
func (g *signal) surprises(lo, hi int) []float64 {
	p := make([]float64, hi-lo)
	for i := lo; i < hi; i++ {
		if i < shockTaps || g.t[i]-g.t[i-shockTaps] > (shockTaps+1.5)*g.step || g.lost(i) {
			continue
		}
		m, slope, bad := 0.0, 0.0, false
		for k := 1; k <= shockTaps; k++ {
			x := g.x[i-k]
			bad = bad || g.lost(i-k)
			m += x / shockTaps
			slope -= x * (float64(k) - (shockTaps+1)/2.0)
		}
		const sxx = 5.0 // of 1, 2, 3, 4 around their mean
		if !bad {
			p[i-lo] = math.Abs(g.x[i] - m - slope/sxx*(shockTaps+1)/2)
		}
	}
	n := max(int(shockSpan/g.step), 16)
	var half, quarter []float64
	for i := 0; i < len(p); i += n {
		b := slices.Clone(p[i:min(i+n, len(p))])
		slices.Sort(b)
		half, quarter = append(half, b[len(b)/2]/0.6745), append(quarter, b[len(b)/4]/0.3186)
	}
	least := 1.58 * g.sigma // the error of a line through four samples, one further on, has 2.5 times their variance
	for i := range p {
		b := i / n
		around := min(half[max(b-1, 0)], half[min(b+1, len(half)-1)])
		p[i] /= max(around, quarter[b], least, 1e-3)
	}
	return p
}

// strongest gives the strongest of some shocks between two instants.
func strongest(all []shock, from, until float64) (best shock, ok bool) {
	for _, s := range all {
		if s.at >= from && s.at <= until && s.score > best.score {
			best, ok = s, true
		}
	}
	return best, ok
}

// stillFrom is the instant from which the accelerometer says the same to the end of the log; the end when it never does.
func (e *examiner) stillFrom() float64 {
	still := e.in.from
	for _, g := range e.accel {
		if g == nil || len(g.x) < 50 {
			continue
		}
		from := g.index(e.end - stillSpan)
		rest := median(g.x[from:])
		bound := stillSigmas*g.sigma + 0.2
		i := len(g.x) - 1
		for i > 1 && (math.Abs(g.x[i]-rest) < bound || math.Abs(g.x[i-1]-rest) < bound) {
			i--
		}
		still = max(still, g.t[i])
	}
	if e.end-still < stillSpan {
		return e.end
	}
	return still
}

const (
	stillSpan   = 1.0 // s at the end of a log in which a rocket that has landed lies still
	stillSigmas = 8.0 // of the accelerometer's noise
)

// blowsOf lists the shocks of the flight outside its burns, and the tugs of lines.
func (e *examiner) blowsOf() (out []shock) {
	if e.accel[0] == nil {
		return nil
	}
	for _, s := range e.shocks(e.lift, e.end) {
		if !e.burning(s.at) {
			out = append(out, s)
		}
	}
	return append(out, e.tugged...)
}

// inShock says that a stretch lies in what a shock leaves: it rings for a while, and the rocket swings.
func (e *examiner) inShock(from, until float64) bool {
	return slices.ContainsFunc(e.blows, func(s shock) bool {
		return from > s.at-shockBefore-2*s.within && until < s.until+shockAfter
	})
}

// shockAt gives the shock that an instant lies in.
func (e *examiner) shockAt(t float64) (shock, bool) {
	for _, s := range e.blows {
		if t > s.at-shockBefore && t < s.until+ringOut {
			return s, true
		}
	}
	return shock{}, false
}

const (
	ringOut     = 0.05 // s after a shock's last strong sample in which it still rings
	shockBefore = 0.02 // s that a fit may put its beginning too early
	shockAfter  = 0.4  // s after a shock in which the board still rings, and lines snatch; common practice, no source
)
