package examine

import (
	"math"
	"slices"
	"sort"

	"drystage/harness/logs"
	"drystage/sim"
)

// silence is a stretch without samples of a part.
type silence struct {
	part                sim.Part
	from, until, period float64 // s; the usual time between samples around it
}

// silences lists the stretches without samples, longer than two and a half of the periods around them, by part in order of time.
func (e *examiner) silences() (gaps [][]silence) {
	for p := range e.log.Streams {
		if e.log.Streams[p].Len() < 20 {
			continue
		}
		times, part := e.tells(sim.Part(p)), []silence{}
		period := usualStep(times)
		habit := e.habit(times, period)
		for i := 2; i < len(times); i++ { // a logger's first row may be early
			d := times[i] - times[i-1]
			if d <= habit*period {
				continue
			}
			if near := max(period, stepAround(times, i)); d > habit*near {
				part = append(part, silence{sim.Part(p), times[i-1] + near, times[i], near})
			}
		}
		if n := len(times); n > 0 {
			near := max(period, usualStep(times[max(n-stepSide, 0):]))
			if e.end-times[n-1] > 5*near+0.5 { // silent to the end
				part = append(part, silence{sim.Part(p), times[n-1] + near, e.end, near})
			}
		}
		gaps = append(gaps, part)
	}
	return gaps
}

// habit is how many periods a part that loses single samples now and then is silent by chance: of n samples each of which is lost
// with the share p, n p^k of the stretches are k lost ones long. A logger that loses none may be silent for leapPeriods.
func (e *examiner) habit(times []float64, period float64) float64 {
	lost := 0.5 // of single ones; half of one is what a log that lost none may have
	for i := 2; i < len(times); i++ {
		if d := times[i] - times[i-1]; d > 1.5*period && d <= leapPeriods*period {
			lost++
		}
	}
	n := float64(len(times))
	k := math.Ceil(math.Log(habitChance/n) / math.Log(min(lost/n, habitMost)))
	return max(leapPeriods, k+0.5)
}

const (
	habitChance = 0.01 // that chance makes one silence of a log
	habitMost   = 0.2  // share of lost samples, beyond which steps are uneven rather than samples lost
)

// alike gives the silence of a part that begins and ends with another one, if there is such.
func (x *silence) alike(part []silence) bool {
	i := sort.Search(len(part), func(i int) bool { return part[i].from > x.from-x.period-part[i].period })
	for ; i < len(part) && part[i].from < x.from+x.period+part[i].period; i++ {
		if math.Abs(part[i].until-x.until) < x.period+part[i].period {
			return true
		}
	}
	return false
}

// silent finds stretches without samples, and tells those of one part from those of all.
func (e *examiner) silent() {
	gaps := e.silences()
	for p, part := range gaps {
		for i := range part {
			g := &part[i]
			together, first := 0, true
			for o := range gaps {
				if o != p && g.alike(gaps[o]) {
					together++
					first = first && p < o
				}
			}
			f := Finding{Kind: Dropout, Part: g.part, From: g.from, Until: g.until, Within: g.period, Strength: (g.until - g.from) / g.period}
			e.hide(f)
			if together == len(gaps)-1 {
				f.Part = sim.NoPart
				f.Explanations = e.leapAt(&f, g.period).why()
			} else {
				first = true
				f.Explanations = []Explanation{{Cause: Sensor, Share: 0.9, For: []string{"the other parts go on"}}, {Cause: Supply, Share: 0.1, Against: []string{"the other parts go on"}}}
			}
			if first {
				e.found(f)
			}
		}
	}
}

// leapAt gives what is known of the clock at a silence of all parts.
func (e *examiner) leapAt(f *Finding, period float64) *leap {
	x := &leap{jumped: leapPrior / 2}
	for i := range e.leaps {
		if l := &e.leaps[i]; math.Abs(e.own(f.From)-l.from) < 2*l.period+period {
			x = l
		}
	}
	return x
}

// tells gives when a part said what it is there for: a barometer that tells its temperature alone is silent, too.
func (e *examiner) tells(p sim.Part) []float64 {
	for _, g := range e.signals() {
		if g.part == p {
			return g.t
		}
	}
	s := e.stream(p)
	out := make([]float64, 0, s.Len())
	for _, t := range s.Times {
		if x := t.Seconds(); x >= e.in.from && x <= e.in.until {
			out = append(out, x)
		}
	}
	return out
}

// hide masks what a finding spoils beyond repair.
func (e *examiner) hide(f Finding) {
	for _, g := range e.signals() {
		if g.part == f.Part && (f.Axis == sim.AllAxes || g.axis == f.Axis) {
			g.hide(f.From-0.1*g.step, f.Until+0.1*g.step)
		}
	}
}

func (e *examiner) found(f Finding) int {
	e.res.Findings = append(e.res.Findings, f)
	return len(e.res.Findings) - 1
}

// signals lists every channel there is.
func (e *examiner) signals() []*signal {
	var out []*signal
	for _, g := range []*signal{e.accel[0], e.accel[1], e.accel[2], e.gyro[0], e.gyro[1], e.gyro[2], e.baro, e.gnss[0], e.gnss[1], e.gnss[2], e.vup, e.volts} {
		if g != nil {
			out = append(out, g)
		}
	}
	return out
}

// run is a stretch of equal values.
type run struct {
	from, until float64
	x           float64
	n           int
}

// stuck finds values that repeat longer than chance allows: with the share q of equal neighbours in
// the whole channel, a run of n among N samples has chance N q^(n-1), and 1e-7 is asked for.
func (e *examiner) stuck() {
	held := map[sim.Part][]Finding{}
	for _, g := range e.signals() {
		if g == e.vup || len(g.x) < 50 {
			continue
		}
		sorted := slices.Clone(g.x)
		slices.Sort(sorted)
		low, high := rangeEnds(sorted)
		// Few samples lie beyond a range's end: faults that came after it.
		below, above := sorted[len(sorted)/200], sorted[len(sorted)-1-len(sorted)/200]
		for _, r := range runs(g) {
			if g.coarse(r) || e.standing(g, r) {
				continue
			}
			f := Finding{Kind: Stuck, Part: g.part, Axis: g.axis, From: r.from, Until: r.until, Within: g.step, Strength: float64(r.n)}
			if extreme := r.x == low || r.x == high; math.Abs(r.x) > 20*g.sigma && (extreme && atLimit(g, r) || (extreme || r.x <= below || r.x >= above) && g.onRange(r)) {
				g.bound(r)
				f.Kind, f.Size = Clipped, r.x
			}
			held[g.part] = append(held[g.part], f)
		}
		if g.part == sim.PartAccel {
			held[g.part] = append(held[g.part], g.rails(low, held[g.part])...)
			held[g.part] = append(held[g.part], g.rails(high, held[g.part])...)
		}
	}
	for p := sim.PartAccel; p <= sim.PartBattery; p++ {
		all := e.together(held[p])
		for _, f := range all {
			if f.Kind == Stuck && f.Axis == sim.AllAxes {
				e.heldOnRail(f, all)
			}
		}
		for _, f := range all {
			f.Explanations = []Explanation{{Cause: Sensor, Share: 0.99, For: []string{"the same value to the last digit, where noise never left it so long before"}}}
			if f.Kind == Clipped {
				f.Explanations = []Explanation{{Cause: Range, Share: 0.95, For: []string{"it is the greatest value of the whole log, and the signal runs into it"}}, {Cause: Sensor, Share: 0.05}}
			}
			e.found(f)
			e.hide(f)
		}
	}
	for _, g := range e.signals() { // what is stuck has no noise, which must not count
		var x []float64
		for i := range g.x {
			if !g.mask[i] {
				x = append(x, g.x[i])
			}
		}
		if len(x) < len(g.x)*9/10 {
			g.sigma = noise(x)
			if g == e.baro && g.part == sim.PartGNSS {
				g.sigma = max(g.sigma, wander)
			}
		}
	}
}

// heldOnRail takes an axis that a part which stuck holds at the end of its range for stuck with the others: what it says
// meanwhile is no bound. all are the findings of the part.
func (e *examiner) heldOnRail(f Finding, all []Finding) {
	for _, g := range e.signals() {
		if g.part != f.Part || g.rail == nil {
			continue
		}
		i, j := g.between(f.From-0.1*g.step, f.Until+0.1*g.step)
		clear(g.rail[i:j])
		for k := range all {
			c := &all[k]
			if c.Kind == Clipped && c.Axis == g.axis && c.From < f.From && c.Until > f.From && c.Until < f.Until+2*g.step {
				c.Until = f.From
			}
		}
	}
}

// runs lists the stretches of equal values that chance can't explain.
func runs(g *signal) []run {
	n, changes := float64(len(g.x)), 1
	for i := 1; i < len(g.x); i++ {
		if g.x[i] != g.x[i-1] {
			changes++
		}
	}
	all := make([]run, 0, changes)
	for i := 0; i < len(g.x); {
		j := i + 1
		for j < len(g.x) && g.x[j] == g.x[i] {
			j++
		}
		all = append(all, run{g.t[i], g.t[j-1], g.x[i], j - i})
		i = j
	}
	q, ok := usualRepeat(all)
	if !ok || len(all) < max(leastRuns, len(g.x)/mostAlike) {
		return nil
	}
	least := max(4.0, 2+math.Log(1e-7/n)/math.Log(max(q, 1e-3)))
	var out []run
	for _, r := range all {
		if float64(r.n) >= least {
			// The first sample of a run is the last good one, which the part repeats.
			r.from += g.step
			r.until += g.step
			out = append(out, r)
		}
	}
	return out
}

// coarse says that a channel takes no more than two values around a run, beside the run, or that it says the same within a
// step of its numbers right before or right after it: its noise is less than that step, and how often it repeats itself
// depends on where between two steps it lies.
func (g *signal) coarse(r run) bool {
	return g.fewValues(r) || g.sameBeside(r)
}

func (g *signal) fewValues(r run) bool {
	span := max(r.until-r.from, coarseSpan, coarseTaps*g.step)
	values := map[float64]bool{}
	for i, j := g.between(r.from-span, r.until+span); i < j && len(values) <= coarseMost; i++ {
		if g.t[i] < r.from-1.5*g.step || g.t[i] > r.until {
			values[g.x[i]] = true
		}
	}
	return len(values) <= coarseMost
}

func (g *signal) sameBeside(r run) bool {
	step := g.resolution()
	i, j := g.index(r.from-1.5*g.step), g.index(r.until)
	same := func(from, until int) bool {
		off := 0
		if from < 0 || until > len(g.x) {
			return false
		}
		for k := from; k < until; k++ {
			if math.Abs(g.x[k]-r.x) > coarseNear*step {
				off++
			}
		}
		return off <= coarseOff
	}
	return same(i-coarseBeside, i) || same(j, j+coarseBeside) || g.mostlySame(r.from-coarseSpan, i, r.x, step) || g.mostlySame(r.until+g.step/2, g.index(r.until+coarseSpan), r.x, step)
}

// mostlySame says that most samples from an instant up to one of them are within a step of a value: a blow lies between a run and what
// was as calm before it.
func (g *signal) mostlySame(from float64, until int, x, step float64) bool {
	near, n := 0, 0
	for k := g.index(from); k < min(until, len(g.x)); k++ {
		if n++; math.Abs(g.x[k]-x) < coarseNear*step {
			near++
		}
	}
	return n >= coarseBeside && float64(near) > coarseMostly*float64(n)
}

// resolution is the step of a channel's numbers: the least difference between neighbours.
func (g *signal) resolution() float64 {
	least := math.Inf(1)
	for i := 1; i < len(g.x); i++ {
		if d := math.Abs(g.x[i] - g.x[i-1]); d > coarseSame*math.Abs(g.x[i]) {
			least = min(least, d)
		}
	}
	return least
}

const (
	coarseSpan   = 1.0  // s on each side of a run that are looked at, or
	coarseTaps   = 50   // samples
	coarseBeside = 10   // samples on each side of a run, of a channel
	coarseMostly = 0.7  // of the samples on one side
	coarseOff    = 2    // of those samples that may lie further off: noise of a third of a step does so with few
	coarseNear   = 1.5  // steps of the numbers, that stays within one step of the run's value there
	coarseSame   = 1e-9 // of a number by which one differs from itself after units were turned
	coarseMost   = 2    // values: the two nearest to what is measured
)

// usualRepeat is the share of samples that repeat the one before, by the shortest 99 % of runs: the longest are
// themselves the question. ok is false where a channel repeats as a rule, or too little is left to tell.
func usualRepeat(all []run) (q float64, ok bool) {
	lengths := make([]int, len(all))
	for i, r := range all {
		lengths[i] = r.n
	}
	slices.Sort(lengths)
	same, n := 0, 0
	for _, l := range lengths[:len(lengths)-max(len(lengths)/100, 1)] {
		same, n = same+l-1, n+l
	}
	q = (float64(same) + 1) / float64(n+1)
	return q, n >= leastTold && q < mostRepeat
}

const (
	leastRuns  = 40  // changes of the value that tell how often it changes
	mostAlike  = 50  // samples to one change, from which a channel is too coarse or too calm to be called stuck
	leastTold  = 40  // samples that tell how often a channel repeats itself
	mostRepeat = 0.9 // share of repeats beyond which a channel's steps are too coarse to tell
)

// ranges are the ends of common accelerometers' ranges, in g0.
var ranges = []float64{2, 4, 6, 8, 16, 24, 32, 50, 64, 100, 200, 400}

const rangeShare = 0.025 // by which a part's end of range differs from its name's

// onRange says that a run of an accelerometer lies at the end of a common range, or that the channel runs into
// the same value elsewhere: a part that sticks has no reason to.
func (g *signal) onRange(r run) bool {
	if g.part != sim.PartAccel {
		return false
	}
	elsewhere := 0
	for i, x := range g.x {
		if x == r.x && (g.t[i] < r.from-1.5*g.step || g.t[i] > r.until) {
			elsewhere++
		}
	}
	return commonRange(r.x) || elsewhere >= 3
}

// commonRange says that a value lies at the end of a range that accelerometers of the trade have.
func commonRange(x float64) bool {
	return slices.ContainsFunc(ranges, func(k float64) bool { return math.Abs(math.Abs(x)/(k*gravity)-1) < rangeShare })
}

// bound marks a run as bounds: the truth lies beyond.
func (g *signal) bound(r run) {
	if g.rail == nil {
		g.rail = make([]bool, len(g.x))
	}
	i, j := g.between(r.from-1.5*g.step, r.until+1.5*g.step)
	for ; i < j; i++ {
		g.rail[i] = g.x[i] == r.x
	}
}

// atLimit says that a signal moves towards a run's value before it and away after it.
func atLimit(g *signal, r run) bool {
	i, j := g.between(r.from-1.5*g.step, r.until)
	if i < 2 || j+2 >= len(g.x) {
		return false
	}
	if j < len(g.x) && g.x[j] == r.x {
		j++
	}
	if j+1 >= len(g.x) || math.Abs(g.x[j]-r.x) > 10*math.Abs(g.x[j+1]-g.x[j])+20*g.sigma {
		return false
	}
	return math.Abs(g.x[i-1]-r.x) < 40*math.Abs(g.x[i-1]-g.x[i-2])+20*g.sigma && math.Abs(g.x[i-1]) < math.Abs(r.x) && math.Abs(g.x[i-2]) < math.Abs(g.x[i-1])
}

// together makes one finding of axes that stuck at once.
func (e *examiner) together(fs []Finding) []Finding {
	var out []Finding
	used := make([]bool, len(fs))
	for i, f := range fs {
		if used[i] {
			continue
		}
		n := 1
		for j := i + 1; j < len(fs); j++ {
			if !used[j] && fs[j].Kind == f.Kind && fs[j].Axis != f.Axis && math.Abs(fs[j].From-f.From) < 1.5*f.Within && math.Abs(fs[j].Until-f.Until) < 1.5*f.Within {
				used[j] = true
				n++
			}
		}
		if n > 1 {
			f.Axis = sim.AllAxes
		}
		out = append(out, f)
	}
	return out
}

// stream gives the stream of a part.
func (e *examiner) stream(p sim.Part) *logs.Stream { return &e.log.Streams[p] }
