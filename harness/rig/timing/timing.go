// Package timing decides which time of an edge is used: the pin's, the board's own clock's, or the arrival of the
// board's message. If there is more than one, they must agree; a difference is reported as a conflict.
//
// It is pure: it has no pins and no clock. It never relies on the board's report alone for an output that a pin
// monitors.
package timing

import (
	"cmp"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// Reported is an edge as the board reports it. Its time is used if HasClock; else it happened within Late before its
// message Arrived.
type Reported struct {
	harness.Edge
	HasClock      bool
	Arrived, Late sim.Time
}

// Captured is an edge of a pin, corrected by the delay of its path.
type Captured struct {
	Channel    int
	On         bool
	At, Within sim.Time
	Basis      harness.Basis // of the edge, if it gets the pin's time
}

// Input is what is known at an instant. Both lists are in order of their times.
type Input struct {
	Bay          int
	Reported     []Reported
	Captured     []Captured
	Watched      uint16 // bit c-1: a pin monitors channel c
	Now          sim.Time
	PinWithin    sim.Time // how long after the report's arrival the pin may still move
	ReportWithin sim.Time // how long after the pin's edge the report may still come
}

// Result is what was decided, and the edges that still wait for their counterpart.
type Result struct {
	Edges     []harness.Edge // in order of their times
	Conflicts []harness.Conflict
	Reported  []Reported
	Captured  []Captured
}

// Merge decides all edges that can be decided.
//
// An output without a pin has the board's report alone. With a pin, the first report and the first pin edge not yet
// used form a pair if they switch the same way. They agree if they are no further apart than the sum of their
// uncertainties; the sum also covers errors that they have in common. If they agree, the more certain time is used,
// the pin's if both are equal. If not, the pin's is used and there is a conflict. An edge without a counterpart in
// time is used as it is, with a conflict.
func Merge(m Input) Result {
	var o Result
	for c := 1; c <= 16; c++ {
		told := filter(m.Reported, func(t Reported) bool { return t.Channel == c })
		seen := filter(m.Captured, func(s Captured) bool { return s.Channel == c })
		if m.Watched>>(c-1)&1 == 0 {
			for _, t := range told {
				o.add(t.Edge, t.time())
			}
			continue
		}
		o.channel(&m, told, seen)
	}
	slices.SortStableFunc(o.Edges, func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) })
	return o
}

// instant is a time with its expanded uncertainty (k = 2).
type instant struct{ at, within sim.Time }

// time is when the edge was, by the board's report. If the message arrived up to Late after the edge, the edge may
// have been at any moment of that span with equal likelihood. Its time is then the middle, and its uncertainty
// 2/sqrt(3) of half the span (JCGM 100:2008, 4.3.7, times k = 2).
func (t Reported) time() instant {
	if t.HasClock {
		return instant{t.At, t.Within}
	}
	return instant{t.Arrived - t.Late/2, sim.Time(math.Ceil(float64(t.Late) / math.Sqrt(3)))}
}

func (o *Result) add(e harness.Edge, i instant) {
	e.At, e.Within = i.at, i.within
	o.Edges = append(o.Edges, e)
}

// channel decides the edges of one output that a pin sees.
func (o *Result) channel(m *Input, told []Reported, seen []Captured) {
	for len(told) > 0 && len(seen) > 0 {
		switch t, s := &told[0], &seen[0]; {
		case t.On == s.On:
			o.mergePair(m.Bay, t, s)
			told, seen = told[1:], seen[1:]
		case t.time().at <= s.At: // they switch different ways: the earlier one has no counterpart
			o.reportedOnly(m.Bay, t)
			told = told[1:]
		default:
			o.capturedOnly(m.Bay, s)
			seen = seen[1:]
		}
	}
	for len(told) > 0 && m.Now-max(told[0].Arrived, told[0].time().at) > m.PinWithin {
		o.reportedOnly(m.Bay, &told[0])
		told = told[1:]
	}
	for len(seen) > 0 && m.Now-seen[0].At > m.ReportWithin {
		o.capturedOnly(m.Bay, &seen[0])
		seen = seen[1:]
	}
	o.Reported, o.Captured = append(o.Reported, told...), append(o.Captured, seen...)
}

func (o *Result) mergePair(bay int, t *Reported, s *Captured) {
	word, pin := t.time(), instant{s.At, s.Within}
	apart := max(word.at-pin.at, pin.at-word.at)
	agree := apart <= word.within+pin.within
	if !agree {
		o.conflict(bay, t.Channel, t.On, &word, &pin)
	}
	if agree && word.within < pin.within {
		o.add(t.Edge, word)
		return
	}
	e := t.Edge
	if s.Basis != harness.ByTick {
		e.Basis = s.Basis
	}
	o.add(e, pin)
}

// reportedOnly adds an edge that only the board reports. The expectations are judged with it, and the run fails by
// the conflict.
func (o *Result) reportedOnly(bay int, t *Reported) {
	word := t.time()
	o.conflict(bay, t.Channel, t.On, &word, nil)
	o.add(t.Edge, word)
}

// capturedOnly adds an edge that only the pin shows: the output did move, and had its effect.
func (o *Result) capturedOnly(bay int, s *Captured) {
	pin := instant{s.At, s.Within}
	o.conflict(bay, s.Channel, s.On, nil, &pin)
	o.add(harness.Edge{Output: sim.Output{Bay: bay, Channel: s.Channel, On: s.On}, Basis: s.Basis}, pin)
}

func (o *Result) conflict(bay, channel int, on bool, t, s *instant) {
	c := harness.Conflict{Bay: bay, Channel: channel, On: on}
	if t != nil {
		c.Told, c.ToldWithin, c.HasTold = t.at, t.within, true
	}
	if s != nil {
		c.Seen, c.SeenWithin, c.HasSeen = s.at, s.within, true
	}
	o.Conflicts = append(o.Conflicts, c)
}

func filter[T any](list []T, keep func(T) bool) (out []T) {
	for _, x := range list {
		if keep(x) {
			out = append(out, x)
		}
	}
	return out
}
