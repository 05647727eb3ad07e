package examine

import "math"

const (
	riseBefore  = 3.0  // s before the rough liftoff, and
	riseAfter   = 4.0  // s after it, of the height that its time is told by
	riseEarly   = 2.0  // s before the rough liftoff, and
	riseLate    = 3.0  // s after it, between which it is looked for
	riseGrid    = 0.05 // s between the instants that are tried
	riseShort   = 0.2  // s of the shortest burn that is tried, and
	riseGrow    = 1.3  // from one burn that is tried to the next
	riseWithin  = 0.2  // s, expanded: thrust is not even, as the fit has it
	riseHigh    = 40.0 // m above the pad that are looked at: no thrust is even for long, and the less of it the less that matters, and
	riseNoise   = 10.0 // times the noise, and
	riseSamples = 12   // samples at least
	riseRough   = 1.0  // s, expanded, of a liftoff that no fit tells
)

// liftoffByHeight is the liftoff where no accelerometer tells it: a rocket that stands, is pushed evenly for a while and then
// coasts is fitted to the height for each instant and each length of the burn; what all of them leave is the time's distribution.
func (e *examiner) liftoffByHeight() (at, within float64) {
	b := e.baro
	_, open := e.byHeight()
	if b == nil {
		return e.lift, riseRough + open
	}
	var t, h []float64
	i, j := b.between(e.lift-riseBefore, min(e.lift+riseAfter, e.top))
	j = min(j, max(e.risen(i, j), b.index(e.lift)+riseSamples))
	for ; i < j; i++ {
		if !b.mask[i] {
			t, h = append(t, b.t[i]), append(h, b.x[i])
		}
	}
	if len(t) < 8 {
		return e.lift, math.Hypot(riseRough, 2*b.step) + open
	}
	sd := math.Hypot(b.sigma, fallLoose)
	type trial struct{ at, rss float64 }
	var all []trial
	least := math.Inf(1)
	for on := e.lift - riseEarly; on < e.lift+riseLate; on += riseGrid {
		best := math.Inf(1)
		for burn := riseShort; burn < 2*riseAfter; burn *= riseGrow {
			best = min(best, riseCost(t, h, on, burn, e.g))
		}
		all, least = append(all, trial{on, best}), min(least, best)
	}
	scale := max(least/float64(len(t)-4), sd*sd)
	sum, mean, sq := 0.0, 0.0, 0.0
	for _, x := range all {
		w := math.Exp((least - x.rss) / (2 * scale))
		sum, mean, sq = sum+w, mean+w*x.at, sq+w*x.at*x.at
	}
	mean /= sum
	within = math.Hypot(2*math.Sqrt(max(sq/sum-mean*mean, 0)), math.Hypot(riseWithin, b.step/2)) + open
	if open == 0 { // air in a bay follows late
		mean, within = mean-e.lag.at, math.Hypot(within, 2*e.lag.sd)
	}
	return mean, within
}

// risen gives the first of some samples from which on the height stays above riseHigh.
func (e *examiner) risen(i, j int) int {
	b, rest := e.baro, 0.0
	if n := min(j-i, riseSamples); n > 0 {
		rest = median(b.x[i : i+n])
	}
	for k := j - 1; k >= i; k-- {
		if !b.mask[k] && b.x[k]-rest < riseHigh+riseNoise*b.sigma {
			return k + 1
		}
	}
	return i
}

// riseCost is the squared residual, in m2, of a height by a ground and an even push that fit best.
func riseCost(t, h []float64, on, burn, g float64) float64 {
	var n, sx, sxx, sy, sxy, syy float64
	for k := range t {
		u, way, fallen := t[k]-on, 0.0, 0.0
		switch {
		case u > burn:
			way, fallen = burn*(u-burn/2), g*(u-burn)*(u-burn)/2
		case u > 0:
			way = u * u / 2
		}
		y := h[k] + fallen
		n, sx, sxx, sy, sxy, syy = n+1, sx+way, sxx+way*way, sy+y, sxy+way*y, syy+y*y
	}
	spread, left := sxx-sx*sx/n, syy-sy*sy/n
	if spread <= 0 {
		return left
	}
	if push := (sxy - sx*sy/n) / spread; push > 0 {
		left -= push * push * spread
	}
	return max(left, 0)
}
