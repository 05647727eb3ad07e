package examine

import (
	"fmt"
	"math"
	"slices"

	"drystage/sim"
)

// lag is how late the air in the bay follows that outside, as a first-order delay, with its standard deviation.
type lag struct{ at, sd float64 } // s

// usualLag is that of vents as they should be, hundredths of a second, and of what parts filter, up to a tenth; common practice,
// no source.
var usualLag = lag{0.05, 0.05}

const (
	lagMiddle, lagSpread = 0.03, 0.9  // s, and of its logarithm: what bays have that are vented well, and parts that filter
	lagBlocked           = 0.02       // the chance that one is not
	lagShort, lagLong    = 0.003, 3.0 // s that are tried
	lagTried             = 48         // between them, even in the logarithm
	lagUntil             = 12.0       // s after liftoff in which it is looked for: later the integral has drifted
	lagCorrelated        = 0.2        // s over which what the model leaves is of one sign
	lagTilt              = 0.04       // s, one standard deviation that a path which bends unseen makes of a lag; by a simulation of 40 flights
	leastVent            = 0.2        // s from which a lag is worth a word
	lagSure              = 0.99       // of the belief
	lagExplains          = 0.5        // of the variance that a usual lag leaves, that a long one may leave at most, or
	lagSurer             = 0.9999     // of the belief, and
	lagExplainsNoisy     = 0.6        // of that variance beyond the barometer's noise
	lagSigmas            = 3.0        // of the barometer's noise, and
	lagLeaves            = 1.0        // m, that a long one may leave: what else is odd is not explained by it
	lagKnown             = 0.3        // of the lag, that its standard deviation may be for it to be used
)

// What height by the accelerometer is wrong by, one standard deviation each: at rest in m, per s and per s2 of flight (bias,
// tilt and the bend of the path), what the ports read of the dynamic pressure, in m per (m/s)2: 2 %, and the share by which
// the air is warmer or colder than taken: 15 K. Common practice, no source.
var lagPriors = [5]float64{0.5, 3, 0.5, 0.001, 0.05}

// vents finds how late pressure follows the height that the accelerometer tells, by the likelihood of all lags, and with it
// what the ports read of the dynamic pressure, and what was felt beyond the end of the accelerometer's range.
func (e *examiner) vents() {
	e.lag = usualLag
	a, b := e.accel[0], e.baro
	if a == nil || b == nil || b.part != sim.PartBaro || e.sway == nil || len(e.burns) == 0 {
		return
	}
	passes := 1
	if e.railed() {
		passes = 3
	}
	e.extra = make([]float64, len(e.burns))
	var p posterior
	for range passes {
		p = e.lags()
		if !p.ok {
			return
		}
		e.port, e.warm = p.fit[portTerm], p.fit[portTerm+1]
		if p.warmSD > warmKnown*lagPriors[portTerm+1] { // the log does not tell it
			e.warm = 0
		}
		for k := range e.extra {
			e.extra[k] = max(e.extra[k]+p.fit[portTerm+2+k], 0)
		}
		if passes > 1 {
			e.move()
		}
	}
	if p.left > math.Pow(max(lagSigmas*b.sigma, lagLeaves), 2) { // something else is odd, which must not hide in these
		e.port, e.warm = 0, 0
		return
	}
	if !e.tilted() { // a tilt that nothing tells bends the height in much the same way
		p.sd = math.Hypot(p.sd, lagTilt)
	}
	e.portSD = max(p.portSD, portLeast)
	// Of a noisy barometer the likelihood alone tells, which must be surer then.
	noisy := b.sigma * b.sigma
	explains := p.left <= lagExplains*p.usually || p.late > lagSurer && p.left-noisy <= lagExplainsNoisy*(p.usually-noisy)
	if e.lag = p.lag; p.late < lagSure || !explains {
		if p.late > 1-lagSure {
			e.lag, e.port, e.warm, e.portSD = usualLag, 0, 0, portSD
		}
		return
	}
	m := e.lag.at
	e.found(Finding{Kind: Latency, Part: sim.PartBaro, Axis: sim.AllAxes, From: e.in.from, Until: e.end, Within: b.step, Size: m, SizeWithin: 2 * e.lag.sd, Strength: m / e.lag.sd,
		Explanations: []Explanation{
			{Cause: Vents, Share: 0.9, For: []string{fmt.Sprintf("its height follows the accelerometer's %.2f +- %.2f s late, as air does that has to pass small or blocked vents", m, 2*e.lag.sd)}},
			{Cause: Sensor, Share: 0.1, For: []string{"a part that filters for so long would look alike"}},
		}})
}

// posterior is what the log says of the lag.
type posterior struct {
	lag
	late          float64 // belief that it is longer than leastVent
	left, usually float64 // variance left by the best lag, and by a usual one
	portSD        float64
	warmSD        float64
	fit           []float64
	ok            bool
}

// lags weighs all lags.
func (e *examiner) lags() (p posterior) {
	var l, taus []float64
	best := math.Inf(-1)
	p.left = math.Inf(1)
	c := e.columns()
	e.drifting(&c)
	for k := range lagTried {
		tau := lagShort * math.Pow(lagLong/lagShort, float64(k)/(lagTried-1))
		x, left, sd, warm, fit, ok := e.lagLikelihood(tau, c)
		if !ok {
			return posterior{}
		}
		p.left = min(p.left, left)
		if tau < lagMiddle {
			p.usually = left
		}
		z := math.Log(tau/lagMiddle) / lagSpread
		prior := (1-lagBlocked)*math.Exp(-0.5*z*z)/lagSpread/math.Sqrt(2*math.Pi) + lagBlocked/math.Log(lagLong/lagShort)
		x += math.Log(prior)
		if taus, l = append(taus, tau), append(l, x); x > best {
			best, p.fit, p.portSD, p.warmSD = x, fit, sd, warm
		}
	}
	var w, s1, s2 float64
	for k, x := range l {
		q := math.Exp(x - best)
		w, s1, s2 = w+q, s1+q*taus[k], s2+q*taus[k]*taus[k]
		if taus[k] > leastVent {
			p.late += q
		}
	}
	m := s1 / w
	step := m * math.Log(lagLong/lagShort) / (lagTried - 1)
	p.at, p.sd, p.late, p.ok = m, math.Sqrt(max(s2/w-m*m, 0)+step*step/12), p.late/w, true
	return p
}

// columns are what height by pressure is explained by, on the accelerometer's times from a second before liftoff on: its
// height, the square of its speed, and what a m/s2 would have made of the height that was felt beyond the range in each burn.
type columns struct {
	t           []float64
	h, square   []float64
	beyond      [][]float64
	doubted     [][]float64 // what each hard deceleration of the coasts took of the height, if it was felt
	drifts      float64     // s, from which on the barometer drifts; 0: it does not
	from, until float64
}

func (e *examiner) columns() (c columns) {
	c.from, c.until = e.lift-1, min(e.top-0.5, e.lift+lagUntil)
	c.until = e.untilJump(c.from, c.until)
	lo, hi := e.sway.index(c.from-1), e.sway.index(c.until+1)
	c.t, c.h = e.sway.t[lo:hi], e.sway.x[lo:hi]
	c.square = make([]float64, hi-lo)
	for i := range c.square {
		c.square[i] = e.rise.x[lo+i] * e.rise.x[lo+i]
	}
	for k := range e.burns {
		way, v, h := make([]float64, hi-lo), 0.0, 0.0
		for i := 1; i < len(way); i++ {
			dt := c.t[i] - c.t[i-1]
			if e.beyond(lo+i) == k {
				v += dt
			}
			h += v * dt
			way[i] = h
		}
		c.beyond = append(c.beyond, way)
	}
	last := math.Inf(-1)
	for i := range c.t {
		x := e.accel[0].x[lo+i] - e.accelOff
		if x > -hard || e.burning(c.t[i]) || c.t[i] < e.lift || c.t[i] > e.top {
			continue
		}
		if c.t[i] > last+doubtApart {
			if len(c.doubted) == mostDoubted {
				break
			}
			c.doubted = append(c.doubted, make([]float64, len(c.t)))
		}
		last = c.t[i]
		way := c.doubted[len(c.doubted)-1]
		dt := c.t[i] - c.t[max(i-1, 0)]
		for k := i; k < len(way); k++ {
			way[k] += x * dt * (c.t[k] - c.t[i])
		}
	}
	return c
}

// drifting asks whether the barometer drifts towards the end of what is looked at, since the lag, the ports and the air's
// warmth would be bent to explain a part of it: all beginnings are tried.
func (e *examiner) drifting(c *columns) {
	none, _, _, _, _, ok := e.lagLikelihood(lagMiddle, *c)
	best := none + driftGain
	for n := 1; ok && n < driftTried; n++ {
		try := *c
		try.drifts = c.from + (c.until-c.from)*float64(n)/driftTried
		if l, _, _, _, _, ok := e.lagLikelihood(lagMiddle, try); ok && l > best {
			best, c.drifts = l, try.drifts
		}
	}
}

const (
	driftTried = 16   // beginnings of a drift that are tried
	driftGain  = 8.0  // nats that one must gain: 1 in 3,000, of some ten that are tried
	driftSD    = 20.0 // m/s, one standard deviation of a drift
)

const (
	doubtApart  = 0.2 // s between decelerations that are doubted each for itself
	mostDoubted = 3   // of them: a fit of more would leave nothing to tell
	doubtSD     = 1.0 // the share of one that was made up, one standard deviation
)

// untilJump gives the end of a span, or the instant shortly before the barometer's height first jumps against the
// accelerometer's: neither a lag nor ports nor warm air can jump, and would be bent to explain a part of it.
func (e *examiner) untilJump(from, until float64) float64 {
	b := e.baro
	i, j := b.between(from, until)
	var t, off []float64
	for ; i < j; i++ {
		if !b.mask[i] {
			t, off = append(t, b.t[i]), append(off, b.x[i]-e.sway.at(b.t[i]))
		}
	}
	least := max(lagJump, 6*b.sigma)
	for k := 2 * lagBeside; k+lagBeside <= len(t); k++ {
		early, before, after := 0.0, 0.0, 0.0
		for i := range lagBeside {
			early, before, after = early+off[k-lagBeside-1-i], before+off[k-1-i], after+off[k+i]
		}
		// A long lag makes the two heights part steadily.
		if jump := after - before; math.Abs(jump) > least*lagBeside && math.Abs(jump-(before-early)) > least*lagBeside {
			return t[k] - 0.2
		}
	}
	return until
}

// beyond gives the burn in which a sample of the accelerometer lies on its rail; -1 for none.
func (e *examiner) beyond(i int) int {
	a := e.accel[0]
	if i < 0 || i >= len(a.rail) || !a.rail[i] {
		return -1
	}
	for k, b := range e.burns {
		if a.t[i] > b.On.At-burnEdge && a.t[i] < b.Off.At+burnEdge {
			return k
		}
	}
	return -1
}

// railed says that a burn went beyond the accelerometer's range.
func (e *examiner) railed() bool {
	a := e.accel[0]
	for i := 0; a != nil && i < len(a.rail); i++ {
		if e.beyond(i) >= 0 {
			return true
		}
	}
	return false
}

// lagged gives a signal as a bay sees it that follows with a lag.
func lagged(t, x []float64, tau float64) *signal {
	y := make([]float64, len(t))
	last := 0.0
	for i := range t {
		if i > 0 {
			last += (x[i] - last) * (1 - math.Exp(-(t[i]-t[i-1])/tau))
		}
		y[i] = last
	}
	return &signal{part: sim.PartAccel, t: t, x: y}
}

// lagLikelihood is the logarithm of the likelihood of a lag, up to a constant, the variance that it leaves, and the
// coefficients of all that explains the height beside the accelerometer's, with the standard deviation of the port's.
func (e *examiner) lagLikelihood(tau float64, c columns) (l, left, portSD, warmSD float64, fit []float64, ok bool) {
	b := e.baro
	h, more, priors := lagged(c.t, c.h, tau), []*signal{lagged(c.t, c.square, tau), nil}, slices.Clone(lagPriors[:])
	more[1] = h
	for _, x := range c.beyond {
		more, priors = append(more, lagged(c.t, x, tau)), append(priors, beyondSD)
	}
	for _, x := range c.doubted {
		more, priors = append(more, lagged(c.t, x, tau)), append(priors, doubtSD)
	}
	if c.drifts > 0 {
		ramp := &signal{t: c.t, x: make([]float64, len(c.t))}
		for i, t := range c.t {
			ramp.x[i] = max(t-c.drifts, 0)
		}
		more, priors = append(more, ramp), append(priors, driftSD)
	}
	i, j := b.between(c.from, c.until)
	every := max((j-i)/lagMost, 1)
	m := newNormal(len(priors))
	n, yy := 0.0, 0.0
	row := make([]float64, len(priors))
	for ; i < j; i += every {
		if b.mask[i] {
			continue
		}
		u := max(b.t[i]-e.lift, 0)
		row[0], row[1], row[2] = 1, u, u*u
		for k, g := range more {
			row[portTerm+k] = g.at(b.t[i])
		}
		r := b.x[i] - h.at(b.t[i])
		m.add(row, r)
		n, yy = n+1, yy+r*r
	}
	if n < 20 {
		return 0, 0, 0, 0, nil, false
	}
	// Neighbours err alike: so many of them count, against the priors too.
	independent := n * min(b.step*float64(every)/lagCorrelated, 1)
	left = b.sigma*b.sigma + yy/n
	var w *normal
	for range lagRounds {
		if w = m.weighted(independent/n/left, priors); w == nil {
			return 0, 0, 0, 0, nil, false
		}
		if fit, ok = w.solve(); !ok {
			return 0, 0, 0, 0, nil, false
		}
		left = m.rss(fit, yy)/n + b.sigma*b.sigma
	}
	portSD, warmSD = math.Sqrt(w.inverse(portTerm)), math.Sqrt(w.inverse(portTerm+1))
	l = -0.5*independent*math.Log(left) - 0.5*w.logDeterminant()
	for c, sd := range priors {
		l -= 0.5 * fit[c] * fit[c] / (sd * sd)
	}
	return l, left, portSD, warmSD, fit, true
}

const (
	lagJump   = 5.0 // m between two neighbouring means of lagBeside samples, and beyond what the means before them foretell
	lagBeside = 4

	warmKnown = 0.5 // of its prior standard deviation, that the air's warmth may be left open by for it to be used

	lagRounds = 4 // of the variance that is left and the fit that leaves it, which hang on each other

	lagMost  = 600  // samples that the likelihood is taken over
	portTerm = 3    // place of the port's share among the coefficients; the air's and those beyond the range follow
	beyondSD = 60.0 // m/s2, one standard deviation of what is felt beyond a range
)

// known gives the lag where the log tells it, and 0 where it does not.
func (l lag) known() float64 {
	if l.sd > lagKnown*l.at {
		return 0
	}
	return l.at
}

// bay is a height as the barometer in its bay sees it: late, and with a share of the dynamic pressure.
func (e *examiner) bay(motion *signal) *signal {
	if motion == nil || e.baro == nil || e.baro.part != sim.PartBaro || e.rise == nil {
		return motion
	}
	x := slices.Clone(motion.x)
	for i, v := range e.rise.x[:min(len(e.rise.x), len(x))] {
		x[i] *= 1 + e.warm
		if motion.t[i] < e.top {
			x[i] += e.port * v * v
		}
	}
	if e.lag.known() == 0 && e.port == 0 {
		return motion
	}
	return lagged(motion.t, x, max(e.lag.at, 1e-6))
}
