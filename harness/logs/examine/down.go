package examine

import (
	"cmp"
	"math"
	"slices"

	"drystage/sim"
)

// force is the size of what the accelerometer feels, mended.
func (e *examiner) force() []float64 {
	m := e.mended()
	f := make([]float64, len(e.accel[0].t))
	for i := range f {
		s := 0.0
		for k := range m {
			s += m[k].at(i) * m[k].at(i)
		}
		f[i] = math.Sqrt(s)
	}
	return f
}

// opening is a canopy that opens, or what is taken for one.
type opening struct {
	at, within float64
	by         string
}

// chutes finds where the fall is braked anew: the speed of the fall is much smaller afterwards than it would have been.
// What the accelerometer, the outputs and the bay's pressure say of the same opening are held together; the sharpest
// of them tells its time.
func (e *examiner) chutes() {
	top, ok := e.res.first(Apogee)
	before := 0 // canopies that opened before the log
	if e.falling {
		if top.At = e.in.from; e.hung() {
			before = 1
		}
	} else if !ok {
		return
	}
	until := e.end
	if m, ok := e.res.first(Landing); ok {
		until = m.At - beforeGround
	}
	if e.accel[0] == nil {
		for n, o := range e.byHeightAlone(top.At, until) {
			e.moment(Deployment, before+n+1, o.at, o.within, o.by)
		}
		return
	}
	blows := e.shocks(top.At-earlyOpening, until)
	var all []opening
	after := top.At
	if o, ok := e.firstOpening(top.At, blows); ok && !e.falling {
		all = append(all, o)
		after = o.at
	}
	all = append(all, e.laterOpenings(max(after+againAfter, top.At+againAfter), until, blows)...)
	for n, o := range all {
		e.moment(Deployment, before+n+1, o.at, o.within, o.by)
	}
}

const (
	earlyOpening = 0.7  // s before the apogee that a first canopy may open
	lateOpening  = 4.0  // s after it: later than that the fall itself shows it
	beforeGround = 0.3  // s before the landing, whose shock is no canopy's
	againAfter   = 1.5  // s after an opening in which shocks are its own
	openBefore   = 0.6  // s before the force of a canopy is seen that its shock may lie
	openAfter    = 0.12 // s after it
	softWithin   = 0.15 // s, expanded: canopies fill slowly at first
	softSamples  = 4.0  // samples by which a soft force may be seen late, expanded: shocks beside it hide among few
	outputWithin = 0.12 // s, expanded, from a firing to the canopy
	braked       = 0.8  // of the speed of free fall, and of the speed before, that a canopy leaves at most
)

// firstOpening is that of the canopy at the apogee.
func (e *examiner) firstOpening(top float64, blows []shock) (opening, bool) {
	a, f := e.accel[0], e.force()
	var best shock
	for _, s := range blows { // a body that turns over may be struck before
		if s.at >= top-earlyOpening && s.at <= top+lateOpening && s.score > best.score && e.brakedFrom(s.at, top) {
			best = s
		}
	}
	if best.score > 0 {
		return e.stretched(best), true
	}
	if e.thrown.at > 0 {
		return e.stretched(e.thrown), true
	}
	i := e.opens(f, a.index(top-0.5))
	if i == 0 {
		return opening{}, false
	}
	kink := a.t[i]
	if e.goesOnFalling(kink, top) || e.bodyBrakes(kink, top) {
		return opening{}, false // what grows is the drag of a free fall
	}
	if at, ok := e.switched(top-earlyOpening, kink+openAfter); ok {
		return opening{at, outputWithin, "an output"}, true
	}
	at, within := e.fired(kink, e.doubt(a, kink, softWithin+softSamples*a.step))
	return opening{at, within, "the accelerometer"}, true
}

// madeUpAt says that a single sample of the accelerometer at an instant was found to be its own fault.
func (e *examiner) madeUpAt(t float64) bool {
	return slices.ContainsFunc(e.res.Findings, func(f Finding) bool {
		return f.Kind == Spike && f.Part == sim.PartAccel && !f.Real() && math.Abs(f.From-t) < f.Within+e.accel[0].step && f.Until-f.From < 3*e.accel[0].step
	})
}

// brakedFrom says that the fall is much slower some seconds after an instant than a free one.
func (e *examiner) brakedFrom(at, top float64) bool {
	until := at + 2 + max(1.5, e.fallSpan())
	if m, ok := e.res.first(Landing); ok {
		until = min(until, m.At)
	}
	v := e.fall(at+2, until)
	return v > 0 && v < braked*e.g*((at+2+until)/2-top)
}

// goesOnFalling says that the fall after an instant is one that no canopy brakes: as fast as a free one, or long after the apogee
// one that still gains more than half of g.
func (e *examiner) goesOnFalling(at, top float64) bool {
	v := e.fall(at+2, at+3.5)
	if v <= 0 {
		return false
	}
	before := e.fall(at-1.5, at-0.2)
	return v > braked*e.g*(at+2.75-top) || at > top+2.5 && before > 0 && v-before > 0.5*e.g*3.6
}

// switched is when the last output before an instant went on.
func (e *examiner) switched(from, until float64) (at float64, ok bool) {
	for _, o := range e.log.Outputs {
		if t := o.At.Seconds(); o.On && t >= from && t <= until {
			at, ok = t, true
		}
	}
	return at, ok
}

// laterOpenings are those further down, where the speed before is known.
func (e *examiner) laterOpenings(from, until float64, blows []shock) (out []opening) {
	a, f := e.accel[0], e.force()
	span, known := e.fallSpan(), e.vup != nil || e.anyHeight() != nil
	slower := func(at, done float64) bool {
		before, after := e.fall(at-max(1.5, span+0.2), at-0.2), e.fall(done+1, min(done+max(3, span+1), until))
		return before > 0 && after > 0 && after < braked*before
	}
	rest := e.hanging(f, from, until)
	first := a.index(from)
	for i := first; i < len(f) && a.t[i] < until; i++ {
		// What hangs under a parachute at a steady speed feels one g, and its swings; what is more brakes.
		h := rest.at(a.t[i])
		if f[i] < h.level+max(2.5, hangSigmas*h.spread) || a.mask[i] {
			continue
		}
		loud, j, v := a.t[i], i, 0.0
		for ; j < len(f)-1 && f[j] > h.level+max(0.3, h.spread); j++ {
			v += (f[j] - h.level) * (a.t[j+1] - a.t[j])
		}
		before := f[max(i-int(1/a.step), 0):max(i-int(0.2/a.step), 1)]
		usual := median(before)
		var off []float64
		for _, x := range before {
			off = append(off, math.Abs(x-usual))
		}
		for bound := usual + max(5*a.sigma, 4*median(off)); i > 1 && (f[i-1] > bound || f[i-2] > bound); { // it may swing before
			i--
		}
		if loud < a.t[min(first+2, len(f)-1)] { // the canopy before still brakes
			i = max(i, j)
			continue
		}
		if o := e.sharper(a.t[i], loud, blows); v > 1 && o.at > from && (slower(o.at, a.t[j]) || !known && v > impulseTells) {
			out = append(out, o)
		}
		i = max(i, j)
	}
	for _, s := range blows {
		near := func(o opening) bool { return math.Abs(o.at-s.at) < againAfter }
		if s.at > from && !slices.ContainsFunc(out, near) && slower(s.at, s.at) {
			out = append(out, e.stretched(s))
		}
	}
	slices.SortFunc(out, func(a, b opening) int { return cmp.Compare(a.at, b.at) })
	return slices.CompactFunc(out, func(a, b opening) bool { return b.at-a.at < againAfter })
}

// sharper is what tells best when a canopy opened whose force is seen from an instant on, and is great from another.
func (e *examiner) sharper(seen, loud float64, blows []shock) opening {
	a := e.accel[0]
	if s, ok := strongest(blows, seen-openBefore, loud+openAfter); ok {
		return e.stretched(s)
	}
	if at, ok := e.switched(seen-openBefore, seen+openAfter); ok {
		return opening{at, outputWithin, "an output"}
	}
	return opening{seen, e.doubt(a, seen, softWithin+softSamples*a.step), "the accelerometer"}
}

// fired moves an opening to the charge near it: the accelerometer of a rocket that tumbles shows a soft
// opening late or early.
func (e *examiner) fired(at, within float64) (float64, float64) {
	for _, f := range e.res.Findings {
		if d := math.Abs(f.From - at); f.Kind == Spike && f.Part == sim.PartBaro && f.Explanations != nil && f.Explanations[0].Cause == Pressured && d < chargeFar {
			return f.From + f.Within, chargeSure
		}
	}
	return at, within
}

const (
	chargeSure = 0.15 // s between a charge and the line stretch after it
	chargeFar  = 1.2  // s by which an opening may be seen away from its charge
)

// opens finds the kink at which the force on the way down begins to grow beyond that of free fall: a
// device that opens goes on pulling, where a shock is over soon.
func (e *examiner) opens(f []float64, from int) int {
	a := e.accel[0]
	rest := median(f[max(from-int(0.5/a.step), 0) : from+1])
	for i := from; i < len(f) && a.t[i] < a.t[from]+15; i++ {
		if f[i] < rest+3 || a.mask[i] || !stays(f, i, int(0.3/a.step), rest+1) {
			continue
		}
		best, most := i, 0.0
		arm := max(int(0.1/a.step), 5)
		for k := max(i-int(1/a.step), from); k <= i; k++ {
			lo, hi := max(k-arm, 0), min(k+arm, len(f)-1)
			left, sl := straight(a.t[lo:k+1], f[lo:k+1])
			right, sr := straight(a.t[k:hi+1], f[k:hi+1])
			one, _ := straight(a.t[lo:hi+1], f[lo:hi+1])
			if gain := one - left - right; sr > sl+1 && gain > most {
				best, most = k, gain
			}
		}
		return best
	}
	return 0
}

// stays says that n samples stay above a level, but for single ones.
func stays(f []float64, from, n int, level float64) bool {
	if from+n+3 > len(f) {
		return false
	}
	for i := from; i < from+n; i += 2 {
		if median(f[i:i+3]) < level {
			return false
		}
	}
	return true
}

// fall is the mean speed downwards over a stretch; 0 when it isn't known.
func (e *examiner) fall(from, until float64) float64 { return e.fallOf(e.anyHeight(), from, until) }

// anyHeight is the height by pressure, or a receiver's where there is none.
func (e *examiner) anyHeight() *signal {
	if e.baro == nil {
		return e.gnss[2]
	}
	return e.baro
}

// fallSpan is the time that a speed of the fall takes to be told by what tells it.
func (e *examiner) fallSpan() float64 {
	if b := e.anyHeight(); b != nil {
		return fallSamples * b.step
	}
	return 0
}

// impulseTells is the speed, in m/s, that what is felt beyond g takes from a fall which nothing else tells: a canopy that
// replaces another takes more, and swings give back what they take; common practice, no source.
const impulseTells = 4.0

const fallSamples = 6 // of a height that tell a speed

// fallOf is fall with a height of its own for where no receiver tells the speed; it may be nil.
func (e *examiner) fallOf(b *signal, from, until float64) float64 {
	if e.vup != nil {
		if m, _, n := e.vup.mean(from, until); n > 3 {
			return -m
		}
	}
	if b != nil {
		if s, sd := b.line(from, until, 1); sd > 0 {
			return -s
		}
	}
	return 0
}
