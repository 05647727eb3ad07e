package examine

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"drystage/harness/logs"
	"drystage/harness/logs/phases"
	"drystage/sim"
)

// series gives a channel to the search for phases, without what is masked.
func (g *signal) series() phases.Series {
	if g == nil {
		return phases.Series{}
	}
	s := phases.Series{T: g.t, X: g.x, Bad: g.mask}
	if g.rail != nil {
		s.Bad = slices.Clone(g.mask)
		for i, r := range g.rail {
			s.Bad[i] = s.Bad[i] && !r // a bound tells more than nothing
		}
	}
	for n, w := range g.steep {
		if n == 0 {
			s.Bad = slices.Clone(s.Bad)
		}
		for i, j := g.between(w.from, w.until); i < j; i++ {
			s.Bad[i] = true
		}
	}
	return s
}

// readable is all channels that phases are found in.
func (e *examiner) readable() phases.Log {
	l := phases.Log{Accel: e.accel[0].series(), Height: e.early(e.baro.series()), GNSSHeight: e.gnss[2].series(), GNSSSpeed: e.vup.series(), Gravity: e.g, Begun: e.begun, Tilted: e.tilted()}
	if a := e.accel[0]; a != nil && len(e.tilt) == len(a.t) { // without a gyro it is taken to stand upright
		l.Upward = phases.Series{T: a.t, X: make([]float64, len(a.t))}
		for i, x := range a.x {
			l.Upward.X[i] = (x - e.accelOff) * e.tilt[i]
		}
	}
	l.Felt = e.felt()
	if a := e.accel[0]; a != nil && a.rail != nil {
		for i, r := range a.rail {
			if r && i > 0 {
				l.Clipped, l.Range = l.Clipped+a.t[i]-a.t[i-1], math.Abs(a.x[i])
			}
		}
	}
	return l
}

// felt is the size of what the accelerometer feels, where none of its axes is masked.
func (e *examiner) felt() (s phases.Series) {
	a := e.accel[0]
	if a == nil {
		return s
	}
	s.T, s.X, s.Bad = a.t, make([]float64, len(a.t)), make([]bool, len(a.t))
	for _, g := range e.accel {
		for i := range s.X {
			if g == nil {
				continue
			}
			if i >= len(g.x) {
				s.Bad[i] = true
				continue
			}
			s.X[i], s.Bad[i] = math.Hypot(s.X[i], g.x[i]), s.Bad[i] || g.lost(i)
		}
	}
	return s
}

// early is a height by pressure with a long lag of its bay taken off, which would put the apogee among the openings.
func (e *examiner) early(s phases.Series) phases.Series {
	if e.advance() > 0 {
		s.T = shifted(s.T, -e.advance())
	}
	return s
}

// advance is by how much heights by pressure are taken to be early where the bay's lag is long, in s; usual ones are taken
// off the apogee itself.
func (e *examiner) advance() float64 {
	if e.lag.at < leastVent || e.baro == nil || e.baro.part != sim.PartBaro {
		return 0
	}
	return e.lag.known()
}

// unmended is readable before pressure has become height: a pascal is about a twelfth of a metre.
func (e *examiner) unmended() phases.Log {
	l := e.readable()
	if e.baro != nil && e.stream(sim.PartBaro).Has(logs.Pressure) {
		l.Height.X = slices.Clone(l.Height.X)
		for i := range l.Height.X {
			l.Height.X[i] /= -12
		}
	}
	return l
}

// motors finds liftoff, burns, separations and the apogee.
func (e *examiner) motors() {
	f := phases.Find(e.readable(), e.padEnd, e.end)
	e.seams, e.brakes = nil, nil
	if a := e.accel[0]; a != nil {
		a.likely = nil
	}
	for n, s := range f.Ascent {
		switch s.Kind {
		case phases.Tail:
			e.seams = append(e.seams, s.From)
		case phases.Braked:
			a := e.accel[0]
			a.likely = append(a.likely, shape{Step, s.From - a.step/2, s.Until - a.step/2})
			e.brakes = append(e.brakes, f.Ascent[n-1].From)
		}
	}
	if e.falling {
		e.top = e.in.from
		return
	}
	e.top = f.ByEye
	e.apogee(f)
	if e.begun && (e.accel[0] == nil || len(f.Boosts) == 0) {
		return
	}
	if e.accel[0] == nil || len(f.Boosts) == 0 {
		by, _ := e.byHeight()
		at, within := e.liftoffByHeight()
		e.moment(Liftoff, 0, at, within, by)
		return
	}
	burns := e.carriedBurns(f)
	before, lit := 0, false // motors that burned before the log; the first one burns when it begins
	if e.begun {
		before, lit = f.Before()
	}
	for k, b := range burns {
		n := k + before
		event, number := Liftoff, 0
		if n > 0 {
			event, number = Ignition, n+1
		}
		on, onWithin := e.unseen(e.accel[0], b.On.At, 2*b.On.SD)
		off, offWithin := e.unseen(e.accel[0], b.Off.At, 2*b.Off.SD)
		if k > 0 || !lit {
			e.moment(event, number, on, onWithin, "the accelerometer")
		}
		e.moment(Burnout, n+1, off, offWithin, "the accelerometer")
	}
	e.burns = burns
	e.separations(f, burns)
}

// carriedBurns leaves out what the speed by the other sensors denies, and what a body feels of its own tumbling or under a canopy
// that opens before the apogee.
func (e *examiner) carriedBurns(f *phases.Flight) []phases.Burn {
	a := e.accel[0]
	var out []phases.Burn
	e.thrown = shock{}
	for n, b := range f.Boosts {
		i, j := a.between(b.On.At, b.Off.At)
		v := 0.0
		for k := i + 1; k < j; k++ {
			v += (a.x[k] - e.accelOff) * (a.t[k] - a.t[k-1])
		}
		if n == 0 || e.carried(b.On.At, b.Off.At, v) && !e.somersaults(b.On.At, b.Off.At) && !e.thrownOut(out[len(out)-1].Off.At, b, v) {
			out = append(out, b)
		}
	}
	if len(out) > 0 && e.thrown.at == 0 {
		e.thrown, _ = e.earlyCharge(out[len(out)-1].Off.At, e.top-earlyOpening)
	}
	return out
}

// separations gives each coast its likeliest separation. The vehicle says how many there can be; without one, stages
// part to light motors, and where none follows only a shock tells.
func (e *examiner) separations(f *phases.Flight, burns []phases.Burn) {
	if s := e.opt.Setup; s != nil && len(s.Vehicle.Stages) < 2 {
		return
	}
	for n, b := range burns {
		until := e.top - 0.5
		wanted := separationGain
		if n+1 < len(burns) {
			until = burns[n+1].On.At
		} else if n > 0 {
			continue
		} else {
			wanted = math.Inf(1) // without a motor that follows, gusts and fins may do the same
		}
		var best phases.Split
		for _, s := range f.Steps {
			if s.At.At > b.Off.At && s.At.At < until && (s.Shock && (e.axes() == 1 || n+1 < len(burns)) || !s.Shock && s.Gain >= wanted) && better(s, best) {
				best = s
			}
		}
		if n+1 == len(burns) && e.thrown.at > 0 { // a charge that fires early parts no stages
			until = min(until, e.thrown.at-separationEdge)
		}
		// What foretells a sample must not be the motor's.
		from, to := b.Off.At+separationEdge+(shockTaps+0.5)*e.accel[0].step, until-separationEdge-1.5*e.accel[0].step
		blow, ok := strongest(e.jolts, from, to)
		if !ok && n+1 < len(burns) { // stages part before the next motor burns, far more often than a sensor errs just then
			blow, ok = strongest(e.lone, from, to)
		}
		switch {
		case ok:
			at, within := e.unseen(e.accel[0], blow.at, blow.within)
			e.moment(Separation, 0, at, within, "a shock in the coast")
		case best.Gain > 0:
			by := fmt.Sprintf("a step of %.1f m/s2 in the drag felt", best.Step)
			if best.Shock {
				by = "a shock in the coast"
			}
			at, within := e.unseen(e.accel[0], best.At.At, 2*best.At.SD)
			e.moment(Separation, 0, at, within, by)
		case n+1 < len(burns):
			from, until := b.Off.At, until
			if gone, _, ok := e.accel[0].missing(from, lostNear); ok { // the burnout may lie anywhere among lost samples
				from = min(from, gone)
			}
			e.moment(Separation, 0, (from+until)/2, 0.95*(until-from)/2, "another motor that burns: anywhere between the two")
		}
	}
}

const lostNear = 0.1 // s from a burnout among or beside lost samples to the nearest of them

const separationEdge = 0.03 // s around a burnout and an ignition that are the motor's

// axes is how many axes of the accelerometer the log has.
func (e *examiner) axes() (n int) {
	for _, a := range e.accel {
		if a != nil {
			n++
		}
	}
	return n
}

// better prefers a blow, which half a rocket's drag alone is no sign of, and then what is clearer.
func better(s, than phases.Split) bool {
	if s.Shock != than.Shock {
		return s.Shock
	}
	return s.Gain > than.Gain
}

const (
	separationGain = 12.0 // nats: 1 in 160,000 by chance, and a coast has some thousand instants
)

// apogee takes the time of the phases, with the doubt of what it was told by.
func (e *examiner) apogee(f *phases.Flight) {
	by, open := e.byHeight()
	if f.Highest != "the barometer" {
		by, open = f.Highest, gnssLag
	}
	if strings.HasPrefix(by, "the accelerometer") {
		e.moment(Apogee, 0, f.Apogee.At, 2*f.Apogee.SD, by)
		return
	}
	at, within := f.Apogee.At, 2*f.Apogee.SD+2*open
	if open == 0 {
		at, within = at-e.lag.at+e.advance(), 2*math.Hypot(f.Apogee.SD, e.lag.sd)
	}
	if e.accel[0] == nil {
		within = math.Hypot(within, apogeeAlone)
	}
	e.moment(Apogee, 0, at, math.Hypot(within, apogeeBent), by)
}

const (
	apogeeAlone = 0.06 // s, expanded: the drag of the last seconds bends the parabola of a height that nothing stands beside
	apogeeBent  = 0.02 // s, expanded, that wind, sideways speed and ports do anyway
)

// first finds the phases before anything is mended: what the rocket did is not taken for a fault, and
// the noise of each phase is known.
func (e *examiner) first() {
	e.lift, e.top = e.padEnd, e.end
	e.jolts, e.lone = e.allShocks()
	if e.moments(); e.noisyTogether() {
		e.res.Moments = nil
		e.jolts, e.lone = e.allShocks()
		e.moments()
	}
	if m, ok := e.res.first(Landing); ok {
		e.down = m.At
	}
	if m, ok := e.res.first(Liftoff); ok {
		e.lift = m.At
	}
	for _, m := range e.res.Moments {
		if m.Event != Apogee {
			e.marks = append(e.marks, m.At)
		}
		if fires(m) {
			e.fires = append(e.fires, m)
		}
		if m.Event == Separation {
			e.parted = append(e.parted, m.At)
		}
	}
	e.res.Moments = nil
	e.blows = e.blowsOf()
	e.vents()
	e.behind, e.gapV = e.receiverDelay(), nil
	for _, g := range e.signals() {
		g.levels = e.loudness(g)
	}
}

// burning says that a motor burns, as first found, or is about to end.
func (e *examiner) burning(t float64) bool {
	for _, b := range e.burns {
		if t > b.On.At-burnEdge && t < b.Off.At+burnEdge/2 {
			return true
		}
	}
	return false
}

const burnEdge = 0.02 // s around a burn in which its vibration may still be felt
