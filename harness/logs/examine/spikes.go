package examine

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness/logs/phases"
	"drystage/sim"
)

const (
	spikeReach   = 2     // samples on each side that a spike of one sample stands out from
	spikeSigmas  = 8.0   // of the noise around it, beyond all of those: vibration of a whole boost reaches 5
	spikeSpan    = 0.25  // s on each side that the noise is taken over
	spikeSharp   = 0.7   // of a spike's size by which it stands out from both neighbours
	spikeAlone   = 4.0   // standard deviations of another axis that make a shock of it
	spikeSlow    = 15e-3 // s between a barometer's samples from which the gas of a charge may be one sample
	spikeParts   = 0.05  // s around a separation in which its blow is felt
	spikeLoneFor = 0.6   // of belief in the sensor where there is no other axis
)

// spikes finds single samples that stand out from the two on either side of them. A blow to the board is felt on more than
// one axis and rings on; a rise of the pressure while canopies open may be a charge's. Those are left alone.
func (e *examiner) spikes() {
	for _, g := range []*signal{e.accel[0], e.accel[1], e.accel[2], e.gyro[0], e.gyro[1], e.gyro[2], e.baro} {
		if g == nil || len(g.x) < 50 {
			continue
		}
		for i := spikeReach; i+spikeReach < len(g.x); i++ {
			size := g.juts(i)
			if size != 0 && g.onRails(i) {
				continue
			}
			if size == 0 || math.Abs(size) < spikeSigmas*g.sd(g.t[i]) || math.Abs(size) < spikeSigmas*g.roughness(i) {
				continue
			}
			near := []float64{g.x[i-2], g.x[i-1], g.x[i+1], g.x[i+2]}
			if math.Abs(size) < spikeSharp*math.Abs(g.x[i]-median(near)) {
				continue // it dies away, as what is real does
			}
			if slices.ContainsFunc(e.parted, func(t float64) bool { return math.Abs(g.t[i]-t) < max(spikeParts, 3*g.step) }) {
				continue
			}
			if g.turns(fitted{size: size}) || g.part == sim.PartAccel && math.Abs(size) < e.leastSpike(g, g.t[i]) {
				continue
			}
			// What a shock leaves is felt on other axes too: where there are such, they have been asked when it has rung out.
			_, rings := e.shockAt(g.t[i])
			ringing := g != e.baro && (rings || e.lonely(g) && e.inShock(g.t[i], g.t[i]))
			if g.part == sim.PartAccel && math.Abs(size) < snatchMost && e.snatches(g.t[i]) {
				continue
			}
			if g == e.accel[0] && size > 0 && g.step > kickSlow && e.kicks(g.t[i]) {
				continue
			}
			if !e.anothers(g, i) && !e.gas(g, i, size) && !ringing {
				e.spike(g, i)
			}
		}
	}
}

// snatches says that a canopy has just been thrown out, whose lines go slack and taut again until it stands.
func (e *examiner) snatches(t float64) bool {
	return slices.ContainsFunc(e.fires, func(m Moment) bool {
		return m.Event == Deployment && t > m.At-m.Within && t < m.At+snatchLasts
	})
}

// kicks says that a motor has just lit, whose igniter and first burning may push for less than a sample.
func (e *examiner) kicks(t float64) bool {
	return slices.ContainsFunc(e.burns, func(b phases.Burn) bool { return t > b.On.At && t < b.On.At+kickLasts })
}

const (
	snatchMost  = 20.0 // m/s2 that slack lines pull by when they go taut again; common practice, no source
	snatchLasts = 2.0  // s after an opening in which they do; common practice, no source

	kickSlow  = 15e-3 // s between samples from which a motor's first push may be one of them
	kickLasts = 0.15  // s; common practice, no source
)

// leastSpike is the smallest single sample of an accelerometer that is worth a word.
func (e *examiner) leastSpike(g *signal, t float64) float64 {
	if t > e.top-turnsOver && g.step > blowUnseen {
		return blowOfOne
	}
	return ownForce
}

const (
	ownForce   = 3.0   // m/s2 that fins, gusts and swings give any rocket within a sample; common practice, no source
	blowUnseen = 18e-3 // s between samples from which a shock may be one sample, on one axis, and
	blowOfOne  = 30.0  // m/s2 that one leaves of it then; common practice, no source
)

// onRails says that a part of the samples around one lies at the end of the range: noise that is cut off on one side
// makes the others stand out.
func (g *signal) onRails(i int) bool {
	if g.rail == nil {
		return false
	}
	n, cut := max(int(spikeSpan/g.step), 6), 0
	lo, hi := max(i-n, 0), min(i+n+1, len(g.rail))
	for _, r := range g.rail[lo:hi] {
		if r {
			cut++
		}
	}
	return float64(cut) > railShare*float64(hi-lo)
}

const railShare = 0.05 // of the samples around one: of normal noise so many lie beyond 1.6 standard deviations

// juts is by how much a sample lies beyond all of its neighbours; 0 where it does not, or something among them is masked.
func (g *signal) juts(i int) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for k := i - spikeReach; k <= i+spikeReach; k++ {
		if g.mask[k] {
			return 0
		}
		if k != i {
			lo, hi = min(lo, g.x[k]), max(hi, g.x[k])
		}
	}
	if g.t[i+spikeReach]-g.t[i-spikeReach] > (2*spikeReach+1.5)*g.step {
		return 0
	}
	switch x := g.x[i]; {
	case x > hi:
		return x - hi
	case x < lo:
		return x - lo
	}
	return 0
}

// roughness is the noise around a sample, by the differences of its neighbours over one of them: that of the louder side.
func (g *signal) roughness(i int) float64 {
	n := max(int(spikeSpan/g.step), 6)
	side := func(from, until int) float64 {
		var d []float64
		for k := max(from, 1); k < min(until, len(g.x)-1); k++ {
			d = append(d, math.Abs(g.x[k]-(g.x[k-1]+g.x[k+1])/2))
		}
		return median(d) / 0.6745 / math.Sqrt(1.5)
	}
	return max(side(i-n, i-1), side(i+2, i+n))
}

// anothers says that another axis of the same part jumps at the same sample or the next: a blow to the board.
func (e *examiner) anothers(g *signal, i int) bool {
	for _, o := range e.signals() {
		if o == g || o.part != g.part || len(o.t) != len(g.t) || g.part != sim.PartAccel && g.part != sim.PartGyro {
			continue
		}
		usual := max(o.roughness(i), o.sigma) * math.Sqrt(1.5)
		for k := max(i-1, 1); k <= min(i+1, len(o.x)-2); k++ {
			if math.Abs(o.x[k]-(o.x[k-1]+o.x[k+1])/2) > spikeAlone*usual {
				return true
			}
		}
	}
	return false
}

// lonely says that a part has no other axis.
func (e *examiner) lonely(g *signal) bool {
	return !slices.ContainsFunc(e.signals(), func(o *signal) bool { return o != g && o.part == g.part && len(o.t) == len(g.t) })
}

// gas says that a sample of pressure may be a charge's.
func (e *examiner) gas(g *signal, i int, size float64) bool {
	return g == e.baro && size < 0 && g.t[i] > e.top-chargeNear && g.step > spikeSlow
}

// spike notes a spike of one sample, and mends it.
func (e *examiner) spike(g *signal, i int) {
	near := []float64{g.x[i-2], g.x[i-1], g.x[i+1], g.x[i+2]}
	slices.Sort(near)
	usual := (near[1] + near[2]) / 2
	sd := max(g.sd(g.t[i]), g.roughness(i))
	size := g.x[i] - usual
	g.x[i] = usual
	f := Finding{Kind: Spike, Part: g.part, Axis: g.axis, From: g.t[i] - g.step/2, Until: g.t[i] + g.step/2, Within: g.step, Size: size, SizeWithin: 2 * sd, Strength: math.Abs(size) / sd}
	own := Explanation{Cause: Sensor, Share: 0.95, For: []string{fmt.Sprintf("one sample alone, %.0f standard deviations off those before and after it", math.Abs(size)/sd)}}
	blow := Explanation{Cause: Shock, Share: 0.05}
	switch {
	case g.part == sim.PartBaro:
		blow.Cause = Pressured
		blow.Against = append(blow.Against, "gas takes longer to leave a bay")
	case e.axes() > 1 || g.part == sim.PartGyro:
		own.For = append(own.For, "no other axis felt it")
		blow.Against = append(blow.Against, "a blow is felt on more than one axis, and rings on")
	default:
		own.Share, blow.Share = spikeLoneFor, 1-spikeLoneFor
		blow.For = append(blow.For, "the log has no other axis, which could tell")
	}
	f.Explanations = []Explanation{own, blow}
	e.found(f)
}
