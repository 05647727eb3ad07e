package examine

import (
	"math"

	"drystage/harness/logs/phases"
)

// stretched is the opening that a shock tells of. A charge throws the pack out, and its lines stretch some tenths of a
// second later: the tug behind a shock, or the second of two, is the opening, and a shock that lasts may hold both.
func (e *examiner) stretched(s shock) opening {
	until := s.at + packMost
	if m, ok := e.res.first(Landing); ok {
		until = min(until, m.At-beforeGround)
	}
	done := max(s.until, s.at+packLeast)
	own, tug := e.tugs(s.at-packLeast, done, until) // what the shock itself pulls, softly at first, and what pulls behind it
	next, by := e.secondShock(s, min(until, s.at+packHard)), "the second of two shocks"
	if own.at > 0 && next.at > 0 && !e.released(own, next) {
		next = shock{}
	}
	if tug.at > s.at+packSoft+2*e.accel[0].step && !e.another(s, tug) && (own.at == 0 || e.released(own, tug)) && (next.at == 0 || math.Abs(next.at-tug.at) > tugApart) {
		next, by = tug, tugOfLines
		e.tugged = append(e.tugged, tug)
	}
	switch {
	case next.at > 0:
		return opening{next.at, next.within, by}
	case own.at > 0:
		return opening{min(own.at, s.at), max(own.within, s.within), tugOfLines}
	case s.until-s.at > shockRinging+shockTaps*e.accel[0].step:
		return opening{(s.at + s.until) / 2, (s.until-s.at)/2 + s.within, "a shock"}
	}
	return opening{s.at, s.within, "a shock"}
}

const tugOfLines = "the tug of the lines"

// secondShock is the next one behind a shock; a zero shock without one.
func (e *examiner) secondShock(s shock, until float64) (next shock) {
	for _, all := range [][]shock{e.jolts, e.lone} {
		for _, o := range all {
			if o.at > s.at+packLeast && o.at < until && (next.at == 0 || o.at < next.at) && !e.madeUpAt(o.at) {
				next = o
			}
		}
	}
	return next
}

// another says that a second charge fires between a shock and a tug, which is then its own.
func (e *examiner) another(s, tug shock) bool {
	_, ok := strongest(e.jolts, s.at+packHard, tug.at-tugApart)
	return ok
}

// earlyCharge is a charge that fires between the end of the last burn and an instant before the apogee: a blow, the pull of lines
// behind it, and a fall that is braked from the apogee on.
func (e *examiner) earlyCharge(burnt, until float64) (shock, bool) {
	before := e.tugged
	for _, s := range e.shocks(max(burnt+earlyAfter, e.top-earliestOpening), until) {
		if o := e.stretched(s); (o.at > s.at+packLeast || o.by == tugOfLines) && (e.brakedFrom(e.top, e.top) || e.fall(e.top+2, e.top+3.5) <= 0) {
			return s, true
		}
		e.tugged = before
	}
	return shock{}, false
}

// thrownOut says that what seems to burn is a pack that a charge has thrown out shortly before the apogee, and its canopy: the speed by
// the other sensors lacks some of what was felt, or nothing else tells it.
func (e *examiner) thrownOut(burnt float64, b phases.Burn, v float64) bool {
	if b.Off.At < e.top-earliestOpening {
		return false
	}
	s, ok := e.earlyCharge(burnt, b.Off.At)
	if !ok || s.at > b.On.At+packMost {
		return false
	}
	if got, sd := e.parity(b.On.At, b.Off.At); sd > 0 && got > -min(max(lostSigmas*sd, lostShare*v), lostMost*v) {
		return false
	}
	e.thrown = s
	return true
}

const (
	earliestOpening = 4.0  // s before the apogee that a charge may throw a canopy out; common practice, no source
	lostSigmas      = 3.0  // standard deviations, and
	lostMost        = 0.5  // of the speed felt: what lacks more is nearer to a loss however badly it is known
	lostShare       = 0.2  // of the speed felt, that a burn's speed lacks at least where it was none
	earlyAfter      = 0.3  // s after a burn from which a blow may be a charge's
	packLeast       = 0.03 // s that a pack takes at least from its charge to the end of its lines, and
	packHard        = 0.6  // s at most where the second one is as hard as the first: later ones are another charge's
	packSoft        = 0.35 // s, and two samples, that it takes at least where no second shock is seen: sooner, what grows softly is a canopy that fills
	packMost        = 1.0  // s at most: 4 m of lines at 4 to 100 m/s; common practice, no source
	tugApart        = 0.06 // s between a shock and a tug that are one
	shockRinging    = 0.06 // s that one shock rings; common practice, no source
)
