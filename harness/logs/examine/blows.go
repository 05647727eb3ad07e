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
		for _, x := range o.edges(f.a-blowApart, f.a+max(blowApart, (f.b-f.a)/2)) { // what hits a board begins on all axes at once
			if math.Abs(x.score) > blowScore {
				return true
			}
		}
	}
	return false
}

// turns says that a break of accelerometer or gyro is no more than forces on a rocket may do between two samples.
func (g *signal) turns(f fitted) bool {
	size := math.Abs(f.size)
	if f.kind == Drift {
		size *= min(f.b-f.a, lastsMost)
	}
	if g.part == sim.PartAccel {
		return size < ownForce
	}
	return g.part == sim.PartGyro && min(size, g.abrupt(f)) < mostTurn*max(g.step, leastTurn)
}

// abrupt is by how much a break changes a channel between two samples, or within leastTurn where they are closer: of a step
// what the samples around its edges do, since one may be fitted to a slope of many samples, and of a bump its flank.
func (g *signal) abrupt(f fitted) float64 {
	if f.kind == Spike {
		return math.Abs(f.size) * math.Pi * max(g.step, leastTurn) / (f.b - f.a)
	}
	k, most := max(int(math.Round(leastTurn/g.step)), 1), 0.0
	for _, t := range []float64{f.a, f.b} {
		for i := max(g.index(t)-k-edgeNear, 0); !math.IsInf(t, 1) && i+k < min(g.index(t)+k+edgeNear, len(g.x)); i++ {
			most = max(most, math.Abs(g.x[i+k]-g.x[i]))
		}
	}
	return most
}

const edgeNear = 3 // samples by which a fit may miss an edge

const (
	mostTurn  = 20.0 // rad/s2 that gusts, fins and motors give a rocket; common practice, no source
	leastTurn = 0.01 // s over which they act
)

// rings says that a break of accelerometer or gyro is what a shock leaves.
func (e *examiner) rings(g *signal, f fitted) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro {
		return false
	}
	if e.inShock(f.a, f.b) || f.b-f.a < ringLongest && e.inShock(f.a, f.a) {
		return true
	}
	return e.filling(f) && (g == e.accel[0] || g.left(f) > leftNoise)
}

// filling says that a break lies where a canopy fills and swings the rocket round.
func (e *examiner) filling(f fitted) bool {
	return slices.ContainsFunc(e.fires, func(m Moment) bool {
		from := f.a
		if f.kind == Drift { // it is told by its end
			from = f.b
		}
		return m.Event == Deployment && from > m.At-m.Within && from < m.At+fills && f.b < m.At+2*fills
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

// flies says that a break of a receiver's position is a path as rockets fly it, where no speed tells better: it bends and
// turns, but it does not jump.
func (e *examiner) flies(g *signal, f fitted) bool {
	if g.part != sim.PartGNSS {
		return false
	}
	for k, z := range e.gnss {
		if z != nil && z.axis == g.axis && (e.stream(sim.PartGNSS).Has(3+k) || k == 2 && e.baro != nil) {
			return false
		}
	}
	return f.kind != Step || g.usually(f, window{f.a - swingSpan, min(f.b, e.end) + swingSpan})
}

// gusts says that a break of the height is no larger than what ports read of the dynamic pressure now and then: little on
// the way up, and a share of it on a body that tumbles or hangs across the flow, as fast as the body turns.
func (e *examiner) gusts(g *signal, f fitted) bool {
	if g.part != sim.PartBaro || e.rise == nil {
		return false
	}
	size := math.Abs(f.size)
	if f.kind == Drift {
		size *= f.b - f.a
	}
	if f.a > e.top-turnsOver {
		v := e.airflow(f)
		sharp := sharpEdge * g.step
		if f.kind == Spike {
			sharp = max(sharp, (f.b-f.a)/2)
		}
		turned := 0.0
		for _, at := range []float64{f.a, f.b} {
			switch {
			case math.IsInf(at, 1) || f.kind == Drift && at == f.a:
			case f.kind != Spike && g.sharp(at, size):
				turned = max(turned, e.turnedBy(at, sharpLeast*g.step))
			default:
				turned = max(turned, e.turnedBy(at, sharp))
			}
		}
		return size < portAcross*v*v/(2*e.g)*min(turned, 1)+lagSigmas*g.sigma
	}
	if math.IsInf(f.b, 1) {
		return false
	}
	v := max(math.Abs(e.rise.at(f.a)), math.Abs(e.rise.at(f.b)))
	return size < portStray*v*v
}

// airflow is the greatest speed of the air that a body may meet at a break of the height on the way down: that of its fall,
// which is not the break's own, of the wind, and what is left of its speed over the ground at the apogee, which dies away
// under a canopy of terminal speed w as v/(1 + v t g/w^2), by drag with the square of the speed.
func (e *examiner) airflow(f fitted) float64 {
	t := f.a
	i, j := e.baro.between(t-1, t+1)
	b := signal{t: e.baro.t[i:j], x: slices.Clone(e.baro.x[i:j]), mask: e.baro.mask[i:j], sigma: e.baro.sigma, step: e.baro.step}
	for k := range b.x {
		b.x[k] -= f.size * f.value(b.t[k])
	}
	down := max(e.fallOf(&b, t-1, t), e.fallOf(&b, t, t+1), 0)
	side := portSlow
	if e.gyro[1] != nil && e.gyro[2] != nil {
		side = max(side, e.side)
	}
	open := e.top
	for _, m := range e.fires {
		if m.Event == Deployment && m.At < t {
			open = m.At
			break
		}
	}
	steady := max(e.fall(open+canopySteady, open+canopySteady+2), 5)
	if since := t - open; since > 0 {
		side = max(side/(1+side*since*e.g/(steady*steady)), portWind)
	}
	return math.Hypot(down, side)
}

// jump is the change of a channel across an instant: the median of three samples behind it minus that of three before it.
func (g *signal) jump(t float64) float64 {
	i := g.index(t)
	if i < 3 || i+3 > len(g.x) {
		return 0
	}
	return median(g.x[i:i+3]) - median(g.x[i-3:i])
}

// sharp says that most of a step's size lies between two samples.
func (g *signal) sharp(t, size float64) bool {
	return math.Abs(g.jump(t)) > sharpShare*math.Abs(size) && math.Abs(size) > sharpSigmas*g.sd(t)
}

// turnedBy is by how many radians the body turns in a span around an instant; 1 where no gyro tells.
func (e *examiner) turnedBy(t, span float64) float64 {
	sum := 0.0
	for _, g := range e.gyro {
		if g == nil {
			return 1
		}
		i, j := g.between(t-span, t+span)
		most := 0.0
		for ; i < j; i++ {
			most = max(most, math.Abs(g.x[i]))
		}
		sum += most * most
	}
	return math.Sqrt(sum) * 2 * span
}

const (
	portStray  = 1e-4 // m per (m/s)2: a fifth of a percent of the dynamic pressure; common practice, no source
	portAcross = 0.5  // of the dynamic pressure across a body; common practice, no source
	portSlow   = 15.0 // m/s over the ground at the apogee where nothing tells it; common practice, no source
	portWind   = 6.0  // m/s of wind; common practice, no source
	sharpEdge  = 5.0  // samples on each side of a step's edge that a fit may put there in place of a slope

	sharpShare  = 0.5  // of a step, that lies between two samples where it is sharp
	sharpSigmas = 20.0 // of the noise, that a step must have for its edge to be told from a slope
	sharpLeast  = 1.0  // samples that a sharp one takes

	canopySteady = 4.0 // s after an opening from which a fall is steady; common practice, no source
)

const receiverWander = 15.0 // m; common practice, no source

// hangs says that a break of accelerometer or gyro after the apogee is what a body does that tumbles or hangs
// under a canopy: it stays, or it is no larger than what the channel does around it anyway.
func (e *examiner) hangs(g *signal, f fitted) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro || f.a < e.top-turnsOver {
		return false
	}
	if math.IsInf(f.b, 1) || e.end-f.b < 1 || e.down > 0 && f.b > e.down-turnNear { // it falls over, lies and is dragged
		return true
	}
	return g.usually(f, window{max(f.a-swingSpan, e.top), f.b + swingSpan})
}

const turnsOver = 2.0 // s before the apogee in which a rocket may begin to turn over

const (
	swingSpan  = 4.0  // s around a break in which a body's swing is looked at
	swingRare  = 0.98 // of the changes around a break that are less than the usual greatest
	swingTimes = 2.0  // times that by which a fault stands out: of a sine's changes the greatest is no more than the usual greatest
	edgeTaps   = 3    // samples over which the edge of a step or the end of a drift is taken
)

// usually says that a channel changes as much around a break anyway, within the time that the break takes to change it: a
// body that swings or tumbles does so slowly, and an edge is sharp.
func (g *signal) usually(f fitted, around window) bool {
	k, size := edgeTaps, math.Abs(f.size)
	switch f.kind {
	case Drift:
		size *= f.b - f.a
	case Spike:
		k = max(int((f.b-f.a)/2/g.step), edgeTaps)
	}
	var d []float64
	i, j := g.between(around.from, around.until)
	for ; i+k < j; i++ {
		if g.mask[i] || g.mask[i+k] || g.t[i+k] > f.a-2*g.step && g.t[i] < f.a+2*g.step || g.t[i+k] > f.b-2*g.step && g.t[i] < f.b+2*g.step {
			continue
		}
		if f.kind == Spike && g.t[i+k] > f.a && g.t[i] < f.b {
			continue
		}
		d = append(d, math.Abs(g.x[i+k]-g.x[i]))
	}
	if len(d) <= 20 {
		return false
	}
	slices.Sort(d)
	return size < swingTimes*d[int(swingRare*float64(len(d)-1))]
}

// swings says that a soft break is no larger than what the signal does before and after it anyway: a
// rocket that swings makes bumps like that.
func (g *signal) swings(f fitted) bool {
	d := f.b - f.a
	if f.kind == Step || f.kind == Spike && d < 0.1 {
		return false
	}
	span := max(1.5*d, 0.5)
	return g.usually(f, window{f.a - span, f.b + span})
}
