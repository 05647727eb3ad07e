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

// turns says that a break of the gyro is no more than forces on a rocket may do between two samples.
func (g *signal) turns(f fitted) bool {
	size := math.Abs(f.size)
	if f.kind == Drift {
		size *= f.b - f.a
	}
	return g.part == sim.PartGyro && size < mostTurn*max(g.step, leastTurn)
}

const (
	mostTurn  = 20.0 // rad/s2 that gusts, fins and motors give a rocket; common practice, no source
	leastTurn = 0.01 // s over which they act
)

// rings says that a break of accelerometer or gyro is what a shock leaves.
func (e *examiner) rings(g *signal, f fitted) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro {
		return false
	}
	if e.inShock(f.a, f.b) || f.b-f.a < ringLongest && (e.inShock(f.a, f.a) || e.inShock(f.b, f.b)) {
		return true
	}
	return slices.ContainsFunc(e.fires, func(m Moment) bool { // a canopy fills and swings the rocket round
		return m.Event == Deployment && f.a > m.At-m.Within && f.a < m.At+fills && f.b < m.At+2*fills
	})
}

const (
	ringLongest = 0.5 // s of a break that begins or ends in a shock to be a part of it
	fills       = 0.7 // s in which canopies fill; common practice, no source
)

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

// gusts says that a break of the height is no larger than what ports read of the dynamic pressure now and then: little on
// the way up, and a share of it on a body that tumbles or hangs across the flow.
func (e *examiner) gusts(g *signal, f fitted) bool {
	if g.part != sim.PartBaro || e.rise == nil || math.IsInf(f.b, 1) {
		return false
	}
	size := math.Abs(f.size)
	if f.kind == Drift {
		size *= f.b - f.a
	}
	if f.a > e.top-0.5 {
		v := max(e.fall(f.a-1, f.a), e.fall(f.a, f.a+1), portSlow)
		return size < portAcross*v*v/(2*e.g)
	}
	v := max(math.Abs(e.rise.at(f.a)), math.Abs(e.rise.at(f.b)))
	return size < portStray*v*v
}

const (
	portStray  = 1e-4 // m per (m/s)2: a fifth of a percent of the dynamic pressure; common practice, no source
	portAcross = 0.5  // of the dynamic pressure across a body; common practice, no source
	portSlow   = 15.0 // m/s, of the fall where nothing tells it
)

const receiverWander = 15.0 // m; common practice, no source

// hangs says that a break of accelerometer or gyro after the apogee is what a body does that tumbles or hangs
// under a canopy: it stays, or it is no larger than what the channel does around it anyway.
func (e *examiner) hangs(g *signal, f fitted) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro || f.a < e.top-turnsOver {
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

const turnsOver = 2.0 // s before the apogee in which a rocket may begin to turn over

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

// leans says that a break of one axis is the body's turning below a canopy or before it: what all axes feel together is
// as smooth with it as without it.
func (e *examiner) leans(g *signal, f fitted) bool {
	if g.part != sim.PartAccel || e.axes() < 3 || f.a < e.top-turnsOver || math.IsInf(f.b, 1) {
		return false
	}
	i, j := g.between(f.a-3*g.step, f.b+3*g.step)
	before, after := e.felt3(i, j, nil, f), e.felt3(i, j, g, f)
	return j-i < 8 || after > leanShare*before
}

const leanShare = 0.5 // of the variance of what is felt that taking a fault out leaves at most

// felt3 is the variance, around a line, of the size of what is felt, with a break taken out of one axis.
func (e *examiner) felt3(i, j int, of *signal, f fitted) float64 {
	var t, x []float64
	for k := i; k < j; k++ {
		sum := 0.0
		for _, a := range e.accel {
			if k >= len(a.x) {
				return 0
			}
			v := a.x[k]
			if of != nil && a.axis == of.axis {
				v -= f.size * f.value(a.t[k])
			}
			sum += v * v
		}
		t, x = append(t, e.accel[0].t[k]), append(x, math.Sqrt(sum))
	}
	if len(x) < 4 {
		return 0
	}
	sse, _ := straight(t, x)
	return sse
}

const (
	grownLeast = 8.0 // m/s2 of a jump on the way down, which no body does at once without a shock
	grownMost  = 4.0 // s that a drift before it may last
	grownSpan  = 2.0 // s around it in which the size of what is felt is looked at
)

// grown looks at a jump of one axis on the way down that stays: when all axes together feel the same before and after, it
// is the end of a drift. How long that lasted, the size of what all of them feel tells.
func (e *examiner) grown(g *signal, f fitted) (fitted, bool) {
	if g.part != sim.PartAccel || e.axes() < 3 || !f.ok || !math.IsInf(f.b, 1) || f.a < e.top || math.Abs(f.size) < grownLeast || e.inShock(f.a, f.a) {
		return f, false
	}
	i, j := g.between(max(f.a-grownMost-grownSpan, e.top), f.a+grownSpan)
	least := leanShare * e.felt3(i, j, nil, f)
	found := false
	for d := 0.2; d < grownMost; d *= 1.1 {
		x := f
		x.shape = shape{Drift, f.a - d, f.a}
		x.size = -f.size / d
		if left := e.felt3(i, j, g, x); left < least {
			least, f, found = left, x, true
			f.sd = math.Sqrt(left/float64(max(j-i, 1))) / d
		}
	}
	return f, found
}
