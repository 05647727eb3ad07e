package examine

import (
	"cmp"
	"math"
	"slices"

	"drystage/sim"
)

// Spikes, steps and drifts are looked for in every channel. The order matters: the gyro turns the
// accelerometer upright, and the accelerometer takes the motion out of pressure and GNSS.

// turning looks at the gyro, and at the accelerometer across the rocket.
func (e *examiner) turning() {
	for _, g := range e.gyro {
		if g != nil {
			e.search(g, g, e.marked)
		}
	}
	e.move()
	for _, a := range e.accel[1:] {
		if a != nil {
			e.search(a, a, e.marked)
		}
	}
}

// elsewhere looks at pressure, GNSS and battery.
func (e *examiner) elsewhere() {
	e.move()
	guide := e.bay(e.guided())
	if e.baro != nil && e.baro.part == sim.PartGNSS { // a receiver alone: its height against its own speed
		guide = summed(e.vup)
	}
	if b := e.residual(e.baro, guide).thinned(); b != nil && (guide != nil || e.baro.part != sim.PartGNSS) {
		e.search(b, e.baro, e.grounded)
	}
	for k, g := range e.gnss {
		if g != nil {
			e.search(e.receiverResidual(k), g, nil)
		}
	}
	if e.battery(); e.volts != nil {
		e.search(e.volts, e.volts, nil)
	}
	e.merge()
}

const unknownForce = 30.0 // m/s2 that may be felt unseen, one standard deviation: half of a motor's; common practice, no source

// kick says that a short burst of noise is a motor's first kick, or its last. It stays hidden from the
// fits, as what can't be told apart.
func (e *examiner) kick(f Finding) bool {
	return f.Kind == NoiseBurst && f.Until-f.From < 0.3 && slices.ContainsFunc(e.marks, func(m float64) bool { return m > f.From-0.2 && m < f.Until+0.1 })
}

// marked says that the sharp ends of a break are moments at which forces really change: all of them,
// since a fault may begin at such a moment, but will hardly end at another.
func (e *examiner) marked(f fitted) bool {
	at := func(t float64) bool {
		return slices.ContainsFunc(e.marks, func(m float64) bool { return math.Abs(t-m) < 0.06 }) || e.onRail(t)
	}
	switch {
	case math.IsInf(f.b, 1):
		return at(f.a) || at(f.a-0.06) || at(f.a+0.06)
	case f.kind == Drift:
		return at(f.b)
	case f.kind == Spike && at(f.a): // a rocket wobbles when a motor lights, dies or leaves
		return true
	case f.b-f.a < 0.3: // one shock
		return slices.ContainsFunc(e.marks, func(m float64) bool { return math.Abs(f.a-m) < 0.06 }) || e.onRail(f.a) && math.Abs(f.size) < 5
	}
	return at(f.a) && at(f.b)
}

// grounded says that a break of the height lies at the landing, which stops the rocket more suddenly
// than an accelerometer's samples show, or after it; or that it may be the accelerometer's own silence.
func (e *examiner) grounded(f fitted) bool {
	// Where the accelerometer is silent, its motion is guessed, which is wrong by some metres.
	if a := e.accel[0]; a != nil && !math.IsInf(f.b, 1) {
		if from, until, ok := a.missing((f.a+f.b)/2, (f.b-f.a)/2+0.5); ok && math.Abs(f.size) < max(5, unknownForce*(until-from)*(until-from)/2) {
			return true
		}
	}
	return e.down > 0 && (f.a > e.down-0.5 || math.Abs(f.b-e.down) < 0.5 || f.b > e.down && !math.IsInf(f.b, 1))
}

// onRail says that the rocket is where rails end: up to 8 m, within a second of liftoff.
func (e *examiner) onRail(t float64) bool {
	if e.sway == nil || t < e.lift-0.05 || t > e.lift+1 {
		return false
	}
	return e.sway.at(t) < 8
}

// pushing looks at the accelerometer along the rocket. Motors make breaks there that are real; a
// break is the sensor's when the speed by the other sensors does not follow it.
func (e *examiner) pushing() {
	if a := e.accel[0]; a != nil {
		a.fences = slices.Concat(e.marks, e.brakes)
		e.search(a, a, func(f fitted) bool { return !e.madeUp(f) })
	}
}

// madeUp says that the speed by the other sensors took no part in a break of the accelerometer. Where
// they can't tell, a break that begins and ends in smooth flight is no rocket's doing either.
func (e *examiner) madeUp(f fitted) bool {
	until := f.b
	if math.IsInf(until, 1) {
		until = f.a + 1
	}
	if e.down > 0 && until > e.down-0.1 {
		return false
	}
	if math.IsInf(f.b, 1) && e.accel[0].hidden(f.a-0.9, f.a+0.9) {
		return false // what is missing there could have made the speeds differ
	}
	if w := e.speedGap(); w != nil && math.IsInf(f.b, 1) {
		// A shift that stays makes the speed by the accelerometer run away from there on.
		if away, sd := w.change(f.a, f.a, 0.8, 0.8, 1); sd > 0 {
			tilt := e.tilt[min(e.accel[0].index(f.a), len(e.tilt)-1)]
			return math.Abs(away) > 5*sd && math.Abs(away+f.size*tilt) < math.Abs(away)
		}
	}
	s := f.shape
	s.b = until
	expected := -f.size * e.upward(s)
	got, sd := e.parity(f.a, until)
	if !math.IsInf(f.b, 1) {
		got, sd = e.speedTold(f.a, until, f.size)
	}
	if sd > 0 {
		wanted := parityOdds
		if e.eventful(f) { // motors and blows have shapes of their own
			wanted = eventOdds
		}
		switch odds := student((got-expected)/sd) - student(got/sd); {
		case odds > wanted:
			return true
		case odds < -parityOdds:
			return false
		}
	}
	left := f.sse / float64(f.n-f.params-1)
	if e.burning(f.a) || e.burning(until) {
		felt, _, n := e.accel[0].mean(f.a-thrustSpan, f.a)
		if f.kind != Step || n == 0 || math.Abs(f.size) < thrustStep*math.Abs(felt) && math.Abs(expected) < thrustUnseen {
			return false // thrust has bumps and steps of its own
		}
	}
	return !math.IsInf(f.b, 1) && !e.eventful(f) && left < 4*e.accel[0].sigma*e.accel[0].sigma
}

const (
	thrustSpan   = 0.1 // s
	thrustUnseen = 5.0 // m/s that a step of the thrust may make unseen by the other sensors; common practice, no source
	thrustStep   = 0.5 // of what is felt, by which a motor's thrust may jump; common practice, no source

	parityOdds = 4.0 // nats by which the speed of the other sensors decides: 50 to 1
	eventOdds  = 6.9 // the same where forces really change: five standard deviations, of student
)

// ended looks at a jump that stays: when the speed by the accelerometer went wrong before it and not
// after it, the jump is the end of a drift. How long that lasted, the speed it made up tells.
func (e *examiner) ended(f fitted) fitted {
	w := e.speedGap()
	if w == nil {
		return f
	}
	before, sb := w.line(f.a-0.8, f.a, 1)
	after, sa := w.line(f.a, f.a+0.8, 1)
	if sb == 0 || sa == 0 || math.Abs(before) < 5*sb || math.Abs(before) < 3*math.Abs(after) {
		return f
	}
	g := e.accel[0]
	best := f
	for _, k := range []Kind{Drift, Step} {
		if x := e.lasted(k, f); x.ok && (math.IsInf(best.b, 1) || g.left(x) < g.left(best)) {
			best = x
		}
	}
	return best
}

// prolonged asks whether a drift began at another time than where it seems to: what it made of the speed tells.
func (e *examiner) prolonged(f fitted) fitted {
	got, sd := e.parity(f.a, f.b)
	if sd == 0 || math.Abs(got+f.size*e.upward(f.shape)) < startSigmas*sd {
		return f
	}
	end := fitted{shape: shape{Step, f.b, math.Inf(1)}, size: -f.size * (f.b - f.a)}
	if x := e.lasted(Drift, end); x.ok && math.Abs(x.b-f.b) < 0.1 {
		return x
	}
	return f
}

const startSigmas = 3.0 // standard deviations of the speed by which a drift's beginning is denied

// lasted finds how long a break of a kind lasted that ends with a jump.
func (e *examiner) lasted(k Kind, f fitted) fitted {
	g := e.accel[0]
	var best shape
	least := 4.0 // standard deviations of the change of speed
	for d := 0.3; d < 8; d *= 1.03 {
		s := shape{k, f.a - d, f.a}
		peak := -f.size
		if k == Drift {
			peak /= d
		}
		got, sd := e.parity(s.a, s.b)
		if sd == 0 {
			continue
		}
		if z := math.Abs(got+peak*e.upward(s)) / math.Hypot(sd, 0.02*peak*e.upward(s)); z < least {
			least, best = z, s
		}
	}
	if best.b == 0 {
		return fitted{}
	}
	return g.refine(best)
}

// upward is the integral of a shape on the accelerometer along the rocket, turned upright.
func (e *examiner) upward(s shape) (v float64) {
	a := e.accel[0]
	i, j := a.between(s.a, s.b)
	for ; i < j; i++ {
		v += s.value(a.t[i]) * e.tilt[i] * a.step
	}
	return v
}

// eventful says that a moment lies at or in a break.
func (e *examiner) eventful(f fitted) bool {
	return e.onRail(f.a) || e.onRail(f.b) || slices.ContainsFunc(e.marks, func(m float64) bool {
		return math.Abs(f.a-m) < 0.15 || math.Abs(f.b-m) < 0.15 || f.a < m && m < f.b && f.kind == Spike
	})
}

// paired makes one step of two of a channel that stay and cancel each other.
func (e *examiner) paired() {
	fs := e.res.Findings
	stays := func(f *Finding) bool { return f.Kind == Step && f.Until >= e.end && f.Part != sim.NoPart }
	for i := range fs {
		for j := range fs {
			a, b := &fs[i], &fs[j]
			if i == j || !stays(a) || !stays(b) || a.Part != b.Part || a.Axis != b.Axis || a.From >= b.From {
				continue
			}
			if off := math.Abs(a.Size + b.Size); off < max(pairShare*math.Abs(a.Size), a.SizeWithin+b.SizeWithin) {
				a.Until, a.Size = b.From, (a.Size-b.Size)/2
				a.SizeWithin = max(a.SizeWithin, off/2)
				e.res.Findings = slices.Delete(fs, j, j+1)
				e.paired()
				return
			}
		}
	}
}

const pairShare = 0.1 // of a step by which the jump that ends it may differ: scale, and what the fits leave

// merge makes one finding of axes of a part that broke alike at once.
func (e *examiner) merge() {
	e.paired()
	fs := e.res.Findings
	var out []Finding
	used := make([]bool, len(fs))
	for i, f := range fs {
		if used[i] {
			continue
		}
		like := []int{i}
		for j := i + 1; j < len(fs); j++ {
			o := fs[j]
			if !used[j] && o.Part == f.Part && o.Kind == f.Kind && o.Axis != f.Axis && o.Axis != sim.AllAxes && f.Kind != Stuck &&
				math.Abs(o.From-f.From) < 3*f.Within && math.Abs(o.Until-f.Until) < 3*f.Within && math.Abs(math.Abs(o.Size)-math.Abs(f.Size)) < 0.5*math.Abs(f.Size) {
				like = append(like, j)
			}
		}
		if len(like) == 3 {
			f.Axis = sim.AllAxes
			used[like[1]], used[like[2]] = true, true
		}
		out = append(out, f)
	}
	slices.SortStableFunc(out, func(a, b Finding) int { return cmp.Compare(a.From, b.From) })
	e.res.Findings = out
}
