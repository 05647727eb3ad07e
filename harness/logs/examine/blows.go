package examine

import (
	"math"
	"slices"

	"drystage/sim"
)

// struck says that another axis breaks at the same time as a short break: a blow to the board, which sensors share.
func (e *examiner) struck(g *signal, f fitted) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro || f.b-f.a > blowLongest || f.a < e.top-0.5 {
		return false
	}
	for _, o := range []*signal{e.accel[0], e.accel[1], e.accel[2], e.gyro[0], e.gyro[1], e.gyro[2]} {
		if o == nil || o == g || o.part == g.part && o.axis == g.axis {
			continue
		}
		for _, x := range o.edges(f.a-blowApart, f.b+blowApart) {
			if math.Abs(x.score) > blowScore {
				return true
			}
		}
	}
	return false
}

const (
	blowLongest = 0.7  // s: lines stretch and canopies fill within
	blowApart   = 0.03 // s between what axes show of one blow
	blowScore   = 12.0 // standard deviations of another axis' jump
)

// wanders says that a break of a receiver's position is no larger than receivers wander.
func (g *signal) wanders(f fitted) bool {
	size := math.Abs(f.size)
	if f.kind == Drift {
		size *= min(f.b-f.a, 60)
	}
	return g.part == sim.PartGNSS && size < receiverWander
}

const receiverWander = 15.0 // m; common practice, no source

// hangs says that a break of accelerometer or gyro after the apogee is what a body does that tumbles or hangs
// under a canopy: it stays, or it is no larger than what the channel does around it anyway.
func (e *examiner) hangs(g *signal, f fitted) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro || f.a < e.top-0.5 {
		return false
	}
	if math.IsInf(f.b, 1) || e.end-f.b < 1 {
		return true
	}
	var d []float64
	i, j := g.between(f.a-swingSpan, f.b+swingSpan)
	k := max(int(swingLag/g.step), 1)
	for ; i+k < j; i++ {
		if t := g.t[i]; t > e.top && !g.mask[i] && (g.t[i+k] < f.a || t > f.b) {
			d = append(d, math.Abs(g.x[i+k]-g.x[i]))
		}
	}
	size := math.Abs(f.size)
	if f.kind == Drift {
		size *= f.b - f.a
	}
	return len(d) > 20 && size < swingTimes*median(d)
}

const (
	swingSpan  = 4.0 // s around a break in which a body's swing is looked at
	swingLag   = 0.2 // s over which it is
	swingTimes = 5.0 // times the usual change that a fault stands out by
)

// swings says that a soft break is no larger than what the signal does before and after it anyway: a
// rocket that swings makes bumps like that.
func (g *signal) swings(f fitted) bool {
	d := f.b - f.a
	peak := math.Abs(f.size)
	if f.kind == Drift {
		peak *= d
	}
	if f.kind == Step || f.kind == Spike && d < 0.1 {
		return false
	}
	span := max(1.5*d, 0.5)
	swing := 0.0
	for _, w := range []window{{f.a - span, f.a}, {f.b, f.b + span}} {
		i, j := g.between(w.from, w.until)
		if j-i < 8 {
			continue
		}
		x := slices.Clone(g.x[i:j])
		slices.Sort(x)
		swing = max(swing, x[len(x)*19/20]-x[len(x)/20])
	}
	return peak < 1.5*swing
}
