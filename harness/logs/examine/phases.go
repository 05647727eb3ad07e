package examine

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

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
	l := phases.Log{Accel: e.accel[0].series(), Height: e.early(e.baro.series()), GNSSHeight: e.gnss[2].series(), GNSSSpeed: e.vup.series(), Gravity: e.g}
	if a := e.accel[0]; a != nil && len(e.tilt) == len(a.t) { // without a gyro it is taken to stand upright
		l.Upward = phases.Series{T: a.t, X: make([]float64, len(a.t))}
		for i, x := range a.x {
			l.Upward.X[i] = (x - e.accelOff) * e.tilt[i]
		}
	}
	return l
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
	e.seams = nil
	for _, s := range f.Ascent {
		if s.Kind == phases.Tail {
			e.seams = append(e.seams, s.From)
		}
	}
	e.top = f.ByEye
	e.apogee(f)
	if e.accel[0] == nil || len(f.Boosts) == 0 {
		by, _ := e.byHeight()
		at, within := e.liftoffByHeight()
		e.moment(Liftoff, 0, at, within, by)
		return
	}
	burns := e.carriedBurns(f)
	for n, b := range burns {
		event, number := Liftoff, 0
		if n > 0 {
			event, number = Ignition, n+1
		}
		on, onWithin := e.unseen(e.accel[0], b.On.At, 2*b.On.SD)
		off, offWithin := e.unseen(e.accel[0], b.Off.At, 2*b.Off.SD)
		e.moment(event, number, on, onWithin, "the accelerometer")
		e.moment(Burnout, n+1, off, offWithin, "the accelerometer")
	}
	e.burns = burns
	e.separations(f, burns)
}

// carriedBurns leaves out what the speed by the other sensors denies.
func (e *examiner) carriedBurns(f *phases.Flight) []phases.Burn {
	a := e.accel[0]
	var out []phases.Burn
	for n, b := range f.Boosts {
		i, j := a.between(b.On.At, b.Off.At)
		v := 0.0
		for k := i + 1; k < j; k++ {
			v += (a.x[k] - e.accelOff) * (a.t[k] - a.t[k-1])
		}
		if n == 0 || e.carried(b.On.At, b.Off.At, v) {
			out = append(out, b)
		}
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
		// What foretells a sample must not be the motor's.
		from, to := b.Off.At+separationEdge+(shockTaps+0.5)*e.accel[0].step, until-separationEdge-1.5*e.accel[0].step
		blow, ok := strongest(e.jolts, from, to)
		if !ok && n+1 < len(burns) { // stages part before the next motor burns, far more often than a sensor errs just then
			blow, ok = strongest(e.lone, from, to)
		}
		switch {
		case ok:
			e.moment(Separation, 0, blow.at, blow.within, "a shock in the coast")
		case best.Shock:
			e.moment(Separation, 0, best.At.At, 2*best.At.SD, "a shock in the coast")
		case best.Gain > 0:
			e.moment(Separation, 0, best.At.At, 2*best.At.SD, fmt.Sprintf("a step of %.1f m/s2 in the drag felt", best.Step))
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
	e.moments()
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

// level is the noise of a channel during a stretch.
type level struct {
	from, until float64
	sd          float64
}

const (
	louder  = 1.3 // times the usual noise from which a phase has its own: 60 samples tell it from chance
	clearly = 2.0 // times the noise after a burn: twelve samples tell it from chance
)

// loudness gives the noise of each burn.
func (e *examiner) loudness(g *signal) (out []level) {
	if g.part != sim.PartAccel && g.part != sim.PartGyro {
		return nil
	}
	for n, b := range e.burns {
		sd, until := g.quieter(b.On.At, b.Off.At), b.Off.At+min(b.Off.At-b.On.At, 1)
		if n+1 < len(e.burns) {
			until = min(until, e.burns[n+1].On.At-burnEdge)
		}
		// What goes on when the motor has ended is not the motor's.
		after := g.quieter(b.Off.At+burnEdge, until)
		if others := e.othersIn(g, b); others > 0 {
			sd, after = min(sd, axesAlike*others), 0
		}
		if sd > louder*g.sigma && after*clearly < sd {
			out = append(out, level{b.On.At - 1.5*g.step, b.Off.At + 1.5*g.step, sd})
		}
	}
	out = append(out, e.buffet(g)...)
	slices.SortFunc(out, func(a, b level) int { return cmp.Compare(a.from, b.from) })
	return out
}

// othersIn is the greatest noise in a burn of the other axes of a part; 0 without any.
func (e *examiner) othersIn(g *signal, b phases.Burn) (sd float64) {
	for _, o := range e.signals() {
		if o.part == g.part && o != g {
			sd = max(sd, o.shake(b.On.At, b.Off.At))
		}
	}
	return sd
}

const axesAlike = 3.0 // times the noise of a part's loudest other axis that a motor makes of one: it shakes all of them

const (
	buffetSpan = 0.5  // s
	buffetSlow = 10.0 // m/s: slower tells nothing of it
)

// buffet gives the noise of coasts, which the air makes in proportion to the speed; half of all stretches are quieter, so that
// a burst of the sensor's own does not count.
func (e *examiner) buffet(g *signal) (out []level) {
	if g.part != sim.PartAccel && g.part != sim.PartGyro || e.rise == nil {
		return nil
	}
	share, at := e.buffets(g)
	k, others := median(share), -1.0
	for _, o := range e.signals() {
		if o.part == g.part && o != g {
			s, _ := e.buffets(o)
			others = max(others, median(s))
		}
	}
	if others >= 0 { // a burst that fills a short coast is not the air's, which shakes all axes
		k = min(k, axesAlike*others)
	}
	for _, w := range at {
		if sd := math.Hypot(g.sigma, k*e.rise.at((w.from+w.until)/2)); sd > louder*g.sigma {
			out = append(out, level{w.from, w.until, sd})
		}
	}
	return out
}

// buffets gives the noise in stretches of the coasts, beyond the usual, as a share of the speed.
func (e *examiner) buffets(g *signal) (share []float64, at []window) {
	for t := e.lift; t+buffetSpan < e.top; t += buffetSpan {
		i, j := g.between(t, t+buffetSpan)
		v := math.Abs(e.rise.at(t + buffetSpan/2))
		if e.burning(t) || e.burning(t+buffetSpan) || j-i < 8 || v < buffetSlow {
			continue
		}
		sd := noise(g.x[i:j])
		share, at = append(share, math.Sqrt(max(sd*sd-g.sigma*g.sigma, 0))/v), append(at, window{t, t + buffetSpan})
	}
	return share, at
}

// quieter is the noise between two instants: of their second quietest quarter where there are samples
// enough, so that a burst of the sensor's own does not count.
func (g *signal) quieter(from, until float64) float64 {
	i, j := g.between(from, until)
	if j-i < 40 {
		return noise(g.x[i:j])
	}
	var parts []float64
	for k := range 4 {
		parts = append(parts, noise(g.x[i+k*(j-i)/4:i+(k+1)*(j-i)/4]))
	}
	slices.Sort(parts)
	return parts[1]
}

// sd is the noise of a sample at an instant.
func (g *signal) sd(t float64) float64 {
	i := sort.Search(len(g.levels), func(i int) bool { return g.levels[i].from > t })
	if i > 0 && t < g.levels[i-1].until {
		return g.levels[i-1].sd
	}
	return g.sigma
}

// loudest is the greatest noise between two instants.
func (g *signal) loudest(from, until float64) float64 {
	sd := g.sigma
	i := max(sort.Search(len(g.levels), func(i int) bool { return g.levels[i].from > from })-1, 0)
	for ; i < len(g.levels) && g.levels[i].from < until; i++ {
		if g.levels[i].until > from {
			sd = math.Max(sd, g.levels[i].sd)
		}
	}
	return sd
}

// weight is what a sample counts for in a fit: the usual noise over its own.
func (g *signal) weight(t float64) float64 {
	if g.levels == nil {
		return 1
	}
	return g.sigma / g.sd(t)
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
