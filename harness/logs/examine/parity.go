package examine

import (
	"math"
	"slices"

	"drystage/sim"
)

// parity gives the change, over a stretch of time, of the speed by GNSS or pressure minus that by the
// accelerometer, with its standard deviation; 0 when neither can tell. A separation's kick is too
// short for an accelerometer's samples, so what lies beyond one is left out. Motors' edges lie between two samples, too;
// and pressure tells a speed by its slope, which the bay's lag and the ports bend most while a motor burns.
func (e *examiner) parity(from, until float64) (change, sd float64) {
	before, after, edges := 1.0, 1.0, 0.0
	for _, m := range e.marks {
		kick := e.vup == nil || slices.Contains(e.parted, m) || m > e.top-turnsOver
		switch {
		case m < from-0.05 && kick:
			before = min(before, from-m)
		case m > until+0.05 && kick:
			after = min(after, m-until)
		case m > from-1 && m < until+1:
			edges = math.Hypot(edges, e.edgeError(m))
		}
	}
	if w := e.speedGap(); w != nil {
		if change, sd = w.change(from, until, before, after, 0); sd > 0 { // receivers are late
			sd = math.Hypot(sd, e.behind.sd*(e.gains(until, until+after)-e.gains(from-before, from)))
		}
	}
	if w := e.heightGap(); sd == 0 && w != nil {
		change, sd = w.change(from, until, before, after, 1)
		if sd > 0 { // ports read a share of the dynamic pressure
			sd = math.Hypot(sd, e.portSD*(e.squared(until, until+after)-e.squared(from-before, from)))
			if e.transonic(from-before, from) || e.transonic(until, until+after) {
				sd = math.Hypot(sd, transonicBump/min(before, after))
			}
		}
	}
	if sd > 0 { // scale and tilt are never better known
		felt := e.rise.at(until) - e.rise.at(from) + e.g*(until-from)
		share := scaleSD
		if e.gyro[1] == nil || e.gyro[2] == nil {
			share = tiltSD
		}
		sd = math.Hypot(math.Hypot(sd, edges), share*felt)
	}
	return change, sd
}

// transonic says that a rocket is near the speed of sound in a stretch, where shocks of the air wander over its static ports.
func (e *examiner) transonic(from, until float64) bool {
	a, b := math.Abs(e.rise.at(from)), math.Abs(e.rise.at(until))
	return max(a, b) > transonicFrom && min(a, b) < transonicUntil
}

// nearSound says that the smoothed flight is near the speed of sound in a stretch, and how fast it begins.
func (e *examiner) nearSound(from, until float64) (v float64, ok bool) {
	if len(e.res.Path.T) == 0 || from > e.top {
		return 0, false
	}
	_, a := e.res.Path.at(from)
	_, b := e.res.Path.at(until)
	_, m := e.res.Path.at((from + until) / 2)
	a, b, m = math.Abs(a), math.Abs(b), math.Abs(m)
	return m, max(a, b, m) > transonicFrom && min(a, b, m) < transonicUntil
}

const (
	transonicLast = 3.0 // s that a rocket is near the speed of sound, at most
	transonicNats = 3.0 // that its shocks are likelier than a part's fault just then: 20 to 1

	transonicFrom  = 270.0 // m/s: Mach 0.85 at -20 degC
	transonicUntil = 400.0 // m/s: Mach 1.15 at 30 degC
	transonicBump  = 100.0 // m, one standard deviation of what they read then: some 12 hPa; common practice, no source
)

// edgeError is the standard deviation of the speed that is not known since a motor's edge lies anywhere between two samples.
func (e *examiner) edgeError(t float64) float64 {
	a := e.accel[0]
	before, _, n := a.mean(t-edgeSpan, t-a.step)
	after, _, k := a.mean(t+a.step, t+edgeSpan)
	if n == 0 || k == 0 {
		return 0
	}
	return math.Abs(after-before) * a.step / math.Sqrt(12)
}

const edgeSpan = 0.1 // s on each side of a motor's edge

const (
	portSD    = 0.0005 // m per (m/s)2: static ports read 1 % of the dynamic pressure, which is so much height; common practice, no source
	portLeast = 2e-5   // what is left of it where the flight tells it
	scaleSD   = 0.01   // of what is felt: scale of the part, and the angle by the gyro
	tiltSD    = 0.05   // of it where no gyro tells the angle: a rocket that leans by 18 degrees
)

// gains is the mean acceleration over a stretch.
func (e *examiner) gains(from, until float64) float64 {
	return (e.rise.at(until) - e.rise.at(from)) / max(until-from, 1e-3)
}

// squared is the mean rate at which the square of the speed changes over a stretch.
func (e *examiner) squared(from, until float64) float64 {
	a, b := e.rise.at(from), e.rise.at(until)
	return (b*b - a*a) / max(until-from, 1e-3)
}

// speedGap is the speed by GNSS minus that by the accelerometer.
func (e *examiner) speedGap() *signal {
	if e.vup == nil || e.rise == nil {
		return nil
	}
	if e.gapV == nil {
		e.gapV = e.residual(e.vup, &signal{t: shifted(e.rise.t, e.behind.at), x: e.rise.x})
	}
	return e.gapV
}

// shifted gives times that are later by d.
func shifted(t []float64, d float64) []float64 {
	out := make([]float64, len(t))
	for i := range t {
		out[i] = t[i] + d
	}
	return out
}

// heightGap is the height by pressure minus that by the accelerometer.
func (e *examiner) heightGap() *signal {
	if e.baro == nil || e.sway == nil {
		return nil
	}
	if e.gapH == nil {
		e.gapH = e.residual(e.baro, e.bay(e.sway))
	}
	return e.gapH
}

// change gives by how much the level (order 0) or the slope (order 1) of a signal differs between the
// spans before and after a stretch.
func (g *signal) change(from, until, spanBefore, spanAfter float64, order int) (change, sd float64) {
	before, sb := g.line(from-spanBefore, from, order)
	after, sa := g.line(until, until+spanAfter, order)
	if sb == 0 || sa == 0 {
		return 0, 0
	}
	return after - before, math.Hypot(sb, sa)
}

// line fits a constant (order 0) or a straight line's slope (order 1), with its standard deviation.
func (g *signal) line(from, until float64, order int) (x, sd float64) {
	m, _, n := g.mean(from, until)
	if n < 3+2*order {
		return 0, 0
	}
	if order == 0 {
		return m, g.sigma / math.Sqrt(float64(n))
	}
	i, j := g.between(from, until)
	var tm, st, sx float64
	for k := i; k < j; k++ {
		if !g.mask[k] {
			tm += g.t[k] / float64(n)
		}
	}
	for k := i; k < j; k++ {
		if !g.mask[k] {
			st += (g.t[k] - tm) * (g.t[k] - tm)
			sx += (g.t[k] - tm) * (g.x[k] - m)
		}
	}
	if st == 0 {
		return 0, 0
	}
	return sx / st, g.sigma / math.Sqrt(st)
}

// residual takes the motion by the accelerometer out of a channel.
func (e *examiner) residual(g, motion *signal) *signal {
	if g == nil {
		return nil
	}
	r := *g
	r.x = slices.Clone(g.x)
	if motion != nil {
		for i := range r.x {
			r.x[i] -= motion.at(r.t[i])
		}
	}
	return &r
}

// receiverResidual takes the motion by the receiver's own velocity out of its position, or that by
// pressure out of its height.
func (e *examiner) receiverResidual(k int) *signal {
	g := e.gnss[k]
	r := *g
	r.x = slices.Clone(g.x)
	s := e.stream(sim.PartGNSS)
	if channel := 3 + k; s.Has(channel) {
		v := take(s, channel, g.axis, e.in)
		v.mask = g.mask[:min(len(g.mask), len(v.x))]
		if len(v.mask) == len(v.x) {
			way, x := 0.0, bridge(v)
			for i := range r.x {
				if i > 0 && i < len(x) {
					way += (x[i] + x[i-1]) / 2 * (v.t[i] - v.t[i-1])
				}
				r.x[i] -= way
			}
			return &r
		}
	}
	if k == 2 && e.baro != nil {
		whole := &signal{t: e.baro.t, x: bridge(e.baro)}
		if d, _, _, ok := e.delay(e.gnss[2], e.baro, e.top+1, wanderFast, receiverWanders); ok && d.at > 2*d.sd {
			whole.t = shifted(whole.t, d.at)
		}
		for i := range r.x {
			r.x[i] -= whole.at(r.t[i])
		}
	}
	return &r
}
