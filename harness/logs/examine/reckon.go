package examine

import (
	"math"
	"slices"

	"drystage/sim"
)

// What the accelerometer's speed and height may be wrong by beside the break that is asked about, one standard deviation
// each; common practice, no source.
const (
	reckonBefore  = 4.0    // s before the break that are looked at, at most from a second before liftoff on
	reckonAfter   = 6.0    // s after it, at most to the apogee
	reckonKnot    = 1.0    // s in which the error of the acceleration stays the same
	reckonBias    = 0.5    // m/s2 of that error: bias, tilt and wind
	reckonTilted  = 1.0    // m/s2 of it where no gyro tells the angle
	reckonBlow    = 3.0    // m/s that samples miss of a blow
	reckonStart   = 20.0   // m/s and m that it is wrong by at the beginning of what is looked at
	reckonAny     = 1000.0 // of what nothing is known of
	reckonSpeed   = 0.5    // m/s that a receiver's speed is wrong by all the time
	reckonBent    = 0.2    // s over which what the model leaves of a height by pressure, or of a receiver's speed, is of one sign
	reckonWanders = 5.0    // s over which a receiver's height does
	reckonRounds  = 4      // of the variance that is left and the fit that leaves it, which hang on each other
	reckonMost    = 400    // samples of a sensor that are looked at
)

// misled is one way in which the accelerometer's speed and height may be wrong, by a size whose standard deviation is sd.
type misled struct {
	sd            float64
	speed, height func(t float64) float64
}

// ramp is a speed that changes evenly by 1 between two instants, and stays.
func ramp(a, b, sd float64) misled {
	d := max(b-a, 1e-6)
	return misled{sd,
		func(t float64) float64 { return min(max((t-a)/d, 0), 1) },
		func(t float64) float64 {
			x := min(max(t-a, 0), d)
			return x*x/(2*d) + max(t-a-d, 0)
		}}
}

// reckon gives the change of the upward speed between two instants by all the other sensors minus that by the
// accelerometer, with its standard deviation; 0 when they can't tell. It is a fit of everything that pressure and receiver
// say of the ascent seconds before and after, with all that each of them and the accelerometer may usually be wrong by: a
// change of the speed that was made up bends the height from there to the apogee, and one that happened does not.
func (e *examiner) reckon(from, until float64) (change, sd float64) {
	if e.rise == nil || until > e.top {
		return 0, 0
	}
	w := window{max(from-reckonBefore, e.lift-1), min(until+reckonAfter, e.top)}
	errs := append([]misled{ramp(from, until, reckonAny)}, e.misleading(from, until, w)...)
	own := len(errs)
	heard := e.heard(w)
	columns := own
	for k := range heard {
		columns += len(heard[k].priors)
	}
	priors := make([]float64, 0, columns)
	for _, x := range errs {
		priors = append(priors, x.sd)
	}
	for k := range heard {
		heard[k].first = len(priors)
		priors = append(priors, heard[k].priors...)
	}
	samples := 0
	for k := range heard {
		samples += heard[k].gather(errs, columns)
	}
	if samples < reckonFew {
		return 0, 0
	}
	for range reckonRounds {
		m := newNormal(columns)
		for k := range heard {
			m.plus(heard[k].m, 1/heard[k].variance)
		}
		m = m.weighted(1, priors)
		x, ok := m.solve()
		if !ok {
			return 0, 0
		}
		for k := range heard {
			heard[k].learn(x)
		}
		change, sd = x[0], math.Sqrt(m.inverse(0))
	}
	return change, sd
}

const reckonFew = 8 // samples, with which a fit begins

// speedTold is the change of the upward speed by the other sensors minus that by the accelerometer over a break of a size:
// by the whole ascent, or after it by what lies beside the break. The break's own edges lie between two samples.
func (e *examiner) speedTold(from, until, size float64) (change, sd float64) {
	if change, sd = e.reckon(from, until); sd == 0 {
		return e.parity(from, until)
	}
	return change, math.Hypot(sd, size*e.accel[0].step*math.Sqrt(2.0/12))
}

// misleading lists what the accelerometer's speed may be wrong by around a break.
func (e *examiner) misleading(from, until float64, w window) (out []misled) {
	a := e.accel[0]
	bias, scale := reckonBias, scaleSD
	if e.gyro[1] == nil || e.gyro[2] == nil {
		bias, scale = reckonTilted, tiltSD
	}
	start := w.from
	out = append(out, misled{reckonStart, func(float64) float64 { return 1 }, func(t float64) float64 { return t - start }})
	felt, way := &signal{t: e.rise.t, x: slices.Clone(e.rise.x)}, &signal{t: e.sway.t, x: slices.Clone(e.sway.x)}
	for i, t := range felt.t {
		u := max(t-e.lift, 0)
		felt.x[i] += e.g * u
		way.x[i] += e.g * u * u / 2
	}
	out = append(out, misled{scale, felt.at, way.at})
	for t := w.from; t < w.until; t += reckonKnot {
		shaken := a.loudest(t, t+reckonKnot) * math.Sqrt(a.step/reckonKnot)
		out = append(out, ramp(t, t+reckonKnot, math.Hypot(bias, shaken)*reckonKnot))
	}
	at := func(t, sd float64) {
		if sd > 0 && t > w.from && t < w.until {
			out = append(out, ramp(t, t, sd))
		}
	}
	for _, m := range e.marks {
		if m < from-2*a.step || m > until+2*a.step {
			at(m, e.edgeError(m))
		}
	}
	for _, s := range e.blows {
		if s.until < from-2*a.step || s.at > until+2*a.step {
			at(s.at, reckonBlow)
		}
	}
	last := w.from
	for i, j := a.between(w.from, w.until); i < j; i++ {
		if a.lost(i) {
			continue
		}
		if d := a.t[i] - last; d > 2.5*a.step && last > w.from {
			out = append(out, ramp(last, a.t[i], unknownForce*d))
		}
		last = a.t[i]
	}
	return out
}

// hearing is what another sensor says of the motion: its samples less what the accelerometer's motion would be.
type hearing struct {
	t, x     []float64
	isSpeed  bool
	late     float64                   // s
	noise    float64                   // variance of a sample
	bent     float64                   // samples that err alike, where the model leaves more than noise
	priors   []float64                 // standard deviations of the sizes of
	more     []func(t float64) float64 // what it may be wrong by itself
	first    int                       // place of those among all columns
	m        *normal
	yy       float64
	variance float64 // of a sample, of those that count as independent
}

// heard lists what the other sensors say in a window.
func (e *examiner) heard(w window) (out []hearing) {
	one := func(float64) float64 { return 1 }
	late := e.behind.at
	if b := e.baro; b != nil && b.part == sim.PartBaro {
		tau := max(e.lag.at, 1e-6)
		h, squared := lagged(e.sway.t, e.sway.x, tau), &signal{t: e.rise.t, x: slices.Clone(e.rise.x)}
		for i, v := range squared.x {
			squared.x[i] = v * v
		}
		squared = lagged(squared.t, squared.x, tau)
		x := hearing{late: e.lag.at, noise: b.sigma * b.sigma, bent: max(reckonBent/b.step, 1),
			priors: []float64{reckonAny, max(e.lag.sd, usualLag.sd/2), lagPriors[portTerm], lagPriors[portTerm+1]},
			more:   []func(t float64) float64{one, e.rise.at, squared.at, h.at}}
		out = append(out, x.less(b, h, w))
	}
	for _, z := range []*signal{e.baro, e.gnss[2]} {
		if z == nil || z.part != sim.PartGNSS {
			continue
		}
		x := hearing{late: late, noise: z.sigma*z.sigma + wander*wander, bent: max(reckonWanders/z.step, 1),
			priors: []float64{reckonAny, max(e.behind.sd, usualDelay.sd)}, more: []func(t float64) float64{one, e.rise.at}}
		out = append(out, x.less(z, &signal{t: shifted(e.sway.t, late), x: e.sway.x}, w))
	}
	if v := e.vup; v != nil {
		gain := func(t float64) float64 { return e.gains(t-late-v.step/2, t-late+v.step/2) }
		x := hearing{isSpeed: true, late: late, noise: v.sigma * v.sigma, bent: max(reckonBent/v.step, 1),
			priors: []float64{reckonSpeed, max(e.behind.sd, usualDelay.sd/2)}, more: []func(t float64) float64{one, gain}}
		out = append(out, x.less(v, &signal{t: shifted(e.rise.t, late), x: e.rise.x}, w))
	}
	return out
}

// less keeps what a channel's samples in a window say beyond a motion.
func (x hearing) less(g, motion *signal, w window) hearing {
	i, j := g.between(w.from, w.until)
	for every := max((j-i)/reckonMost, 1); i < j; i += every {
		if !g.mask[i] {
			x.t, x.x = append(x.t, g.t[i]), append(x.x, g.x[i]-motion.at(g.t[i]))
		}
	}
	return x
}

// gather makes the normal equations of what a sensor says, and gives the number of its samples.
func (x *hearing) gather(errs []misled, columns int) int {
	x.m, x.variance = newNormal(columns), max(x.noise, 1e-6)
	row := make([]float64, columns)
	for i, t := range x.t {
		for k := range errs {
			if u := t - x.late; x.isSpeed {
				row[k] = errs[k].speed(u)
			} else {
				row[k] = errs[k].height(u)
			}
		}
		for k, f := range x.more {
			row[x.first+k] = f(t)
		}
		x.m.add(row, x.x[i])
		x.yy += x.x[i] * x.x[i]
	}
	return len(x.t)
}

// learn takes the variance from what a fit leaves: what is more than noise errs alike from sample to sample.
func (x *hearing) learn(fit []float64) {
	if len(x.t) > 0 {
		left := x.m.rss(fit, x.yy) / float64(len(x.t))
		x.variance = max(x.noise, 1e-6) + max(left-x.noise, 0)*x.bent
	}
}
