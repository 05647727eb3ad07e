package examine

import (
	"math"
	"slices"
)

const (
	railTimes  = 4    // samples at the same extreme value: noise meets it once
	railCrowd  = 3.0  // times as many as at the values within: an output of coarse steps has few at its extreme
	railSteps  = 20.5 // steps of the numbers inside of an extreme value that tell how many samples each has
	railRare   = 0.1  // samples that a value has at least
	railNats   = 6.0  // by which the crowd at the extreme value is no chance (Poisson): 1 in 400
	railApart  = 0.5  // s between samples at the range's end that are one stretch
	railSigmas = 20.0 // of the noise that a range's end is off at least
)

// rangeEnds gives what may be the ends of a channel's range, of its values in order: the extreme ones, or those that are met again
// and again with few others beyond them, which faults made that came after the range's end.
func rangeEnds(sorted []float64) (low, high float64) {
	n := len(sorted)
	crowded := func(at func(i int) float64) float64 {
		best, most := at(0), railTimes
		for i := 0; i <= n/railBeyond; {
			j := i
			for j < n && at(j) == at(i) {
				j++
			}
			if j-i > most && commonRange(at(i)) {
				best, most = at(i), j-i
			}
			i = j
		}
		return best
	}
	return crowded(func(i int) float64 { return sorted[i] }), crowded(func(i int) float64 { return sorted[n-1-i] })
}

const railBeyond = 100 // of a channel's samples one lies beyond the end of its range at most

// crowd is how many samples a value inside of an extreme one has, by those within some steps of the numbers from it.
func (g *signal) crowd(x float64) float64 {
	span, n := railSteps*g.resolution(), 0
	for _, y := range g.x {
		if d := (x - y) * math.Copysign(1, x); d > 0 && d < span {
			n++
		}
	}
	return max(float64(n)/railSteps, railRare)
}

// rails finds where vibration meets the end of the range again and again, if only for a sample: the extreme value of the
// channel comes many times, and the next one hardly. Stretches already found to be clipped are left out.
func (g *signal) rails(x float64, known []Finding) (out []Finding) {
	if math.Abs(x) < railSigmas*g.sigma {
		return nil
	}
	if last := g.x[g.index(g.t[len(g.t)-1]-stillSpan):]; math.Abs(median(last)-x) < coarseNear*g.resolution() {
		return nil // it lies still there
	}
	n := 0
	for _, y := range g.x {
		if y == x {
			n++
		}
	}
	if usual := g.crowd(x); n < railTimes || float64(n) < railCrowd*usual || float64(n)*math.Log(float64(n)/usual)-float64(n)+usual < railNats {
		return nil
	}
	var f Finding
	count := 0
	end := func() {
		over := func(k Finding) bool { return k.Axis == g.axis && k.From < f.Until && f.From < k.Until }
		if count >= railTimes && !slices.ContainsFunc(known, over) {
			out = append(out, f)
		}
		if count > 0 {
			g.bound(run{from: f.From, until: f.Until, x: x})
		}
		count = 0
	}
	for i, y := range g.x {
		if y != x {
			continue
		}
		if count > 0 && g.t[i]-f.Until > railApart {
			end()
		}
		if count++; count == 1 {
			f = Finding{Kind: Clipped, Part: g.part, Axis: g.axis, From: g.t[i], Within: g.step, Size: x}
		}
		f.Until, f.Strength = g.t[i]+g.step/2, float64(count)
	}
	end()
	return out
}
