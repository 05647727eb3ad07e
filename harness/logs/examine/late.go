package examine

import (
	"fmt"
	"math"

	"drystage/sim"
)

const (
	leastLatency    = 0.1  // s: receivers of the trade are that late; common practice, no source
	lateMost        = 3.0  // s that are tried
	lateStep        = 0.01 // s
	lateSure        = 6.0  // standard deviations from 0
	lateLeaves      = 3.0  // standard deviations of the receiver, and
	lateShare       = 1e-3 // of the variance of what it follows, that a delay leaves at most: scale and tilt
	lateExplains    = 0.7  // of the variance without a delay, that one may leave at most
	receiverWanders = 0.5  // s over which a receiver's errors of height are alike, of those that look like a delay
	wanderFast      = 1.2  // m by which a receiver's height wanders within a flight's ascent; common practice, no source
)

// late measures by how much a receiver's speed, or its height where it tells no speed, follows that of the other sensors
// late: each delay is tried, and what is constant, in proportion or in line with time is fitted beside it.
func (e *examiner) late() {
	known := e.top // a speed is not known beyond what is missing of it
	if a := e.accel[0]; a != nil {
		for i := a.index(e.lift); i < len(a.t) && a.t[i] < known; i++ {
			if a.lost(i) && (a.rail == nil || e.beyond(i-1) < 0 && e.beyond(i+1) < 0) {
				known = a.t[i]
			}
		}
	}
	switch {
	case e.vup != nil && e.rise != nil && (!e.railed() || e.baro == nil):
		e.delayed(e.vup, e.rise, known, max(e.vup.sigma, 0.05), e.vup.step, "speed")
	case e.gnss[2] != nil && e.baro != nil && e.baro.part == sim.PartBaro:
		e.delayed(e.gnss[2], e.baro, e.top+1, wanderFast, receiverWanders, "height")
	case e.gnss[2] != nil && e.sway != nil:
		e.delayed(e.gnss[2], e.sway, known, wanderFast, receiverWanders, "height")
	}
}

// delayed says by how much g follows ref late, where that is worth a word.
func (e *examiner) delayed(g, ref *signal, until, sd, alike float64, what string) {
	d, least, none, ok := e.delay(g, ref, until, sd, alike)
	if !ok {
		return
	}
	if ref == e.baro {
		d.at, d.sd = d.at+e.lag.at, math.Hypot(d.sd, e.lag.sd)
	}
	shortest := leastLatency
	if what == "height" { // what ports read of the dynamic pressure looks like a delay by so much
		fastest := 0.0
		if e.rise != nil {
			for i := e.rise.index(e.lift); i < len(e.rise.x) && e.rise.t[i] < e.top; i++ {
				fastest = max(fastest, e.rise.x[i])
			}
		}
		shortest += portSD * fastest
	}
	if d.at < shortest || d.at < lateSure*d.sd || least > lateExplains*none || least > math.Pow(lateLeaves*sd, 2)+lateShare*e.swingOf(ref, until) {
		return
	}
	e.found(Finding{Kind: Latency, Part: sim.PartGNSS, Axis: sim.AllAxes, From: e.lift, Until: e.top, Within: 1, Size: d.at, SizeWithin: 2 * d.sd, Strength: d.at / d.sd,
		Explanations: []Explanation{{Cause: Sensor, Share: 0.95, For: []string{fmt.Sprintf("its %s follows that of the other sensors %.0f +- %.0f ms late, all the way up", what, 1e3*d.at, 2e3*d.sd), "receivers filter and compute, and many stamp a fix when it is sent"}}}})
}

// delay is the posterior of the delay of g against ref, and the variance that the best one and none leave. Errors of g are
// alike for some time.
func (e *examiner) delay(g, ref *signal, until, sd, alike float64) (d lag, least, none float64, ok bool) {
	var l []float64
	best := math.Inf(-1)
	least = math.Inf(1)
	for tau := 0.0; tau < lateMost; tau += lateStep {
		r, n, ok := e.leftAt(g, ref, until, tau)
		if !ok {
			return d, 0, 0, false
		}
		if r += sd * sd; tau == 0 {
			none = r
		}
		x := -0.5 * n * min(g.step/alike, 1) * math.Log(r)
		l, least, best = append(l, x), min(least, r), max(best, x)
	}
	var p, s1, s2 float64
	for k, x := range l {
		w, tau := math.Exp(x-best), lateStep*float64(k)
		p, s1, s2 = p+w, s1+w*tau, s2+w*tau*tau
	}
	d.at = s1 / p
	d.sd = math.Sqrt(max(s2/p-d.at*d.at, 0) + lateStep*lateStep/12)
	return d, least, none, true
}

// receiverDelay is that of the receiver's speed, as far as it can be told before anything is mended.
func (e *examiner) receiverDelay() lag {
	if e.vup == nil || e.rise == nil || e.railed() {
		return usualDelay
	}
	sd := max(e.vup.sigma, 0.05)
	d, least, _, ok := e.delay(e.vup, e.rise, e.top, sd, e.vup.step)
	if !ok || least > math.Pow(lateLeaves*sd, 2)+lateShare*e.swingOf(e.rise, e.top) {
		return usualDelay
	}
	return d
}

// usualDelay is what is taken where the flight does not tell it; common practice, no source.
var usualDelay = lag{0.04, 0.08}

// swingOf is the variance of what a delay is looked for in.
func (e *examiner) swingOf(ref *signal, until float64) float64 {
	i, j := ref.between(e.lift-1, until)
	m, sq := 0.0, 0.0
	for _, x := range ref.x[i:j] {
		m, sq = m+x/float64(j-i), sq+x*x/float64(j-i)
	}
	return sq - m*m
}

// leftAt is the variance that a delay leaves of g, and the number of samples.
func (e *examiner) leftAt(g, ref *signal, until, tau float64) (left, n float64, ok bool) {
	var m [3][3]float64
	var y [3]float64
	yy := 0.0
	i, j := g.between(e.lift-1, until)
	for ; i < j; i++ {
		if g.mask[i] {
			continue
		}
		t := g.t[i] - tau
		row, x := [3]float64{1, ref.at(t), max(g.t[i]-e.lift, 0)}, g.x[i]
		for r := range row {
			y[r] += row[r] * x
			for c := range row {
				m[r][c] += row[r] * row[c]
			}
		}
		n, yy = n+1, yy+x*x
	}
	x, ok := solve3(m, y)
	if n < 10 || !ok {
		return 0, n, false
	}
	return max(yy-dot(x[:], y[:]), 0) / n, n, true
}
