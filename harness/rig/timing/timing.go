// Package timing decides which time of an edge counts: that of the pin at the output, that of the
// board's own clock, or that of the frame's arrival. Where two of them exist they must agree, and
// what does not is named.
//
// It is pure: it knows no pins and no clock, and never takes a board's word alone for an output that
// a pin sees.
package timing

import (
	"cmp"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// Reported is an edge by the board's word. Its time counts where HasClock; else it happened in the span
// of Late that ended when its frame Arrived.
type Reported struct {
	harness.Edge
	HasClock      bool
	Arrived, Late sim.Time
}

// Captured is an edge by the pin, corrected by the delay of its path.
type Captured struct {
	Channel    int
	On         bool
	At, Within sim.Time
	Basis      harness.Basis // of an edge whose time is the pin's
}

// Input is what is known at an instant, both kinds in order of their times.
type Input struct {
	Bay          int
	Reported     []Reported
	Captured     []Captured
	Watched      uint16 // bit c-1: a pin sees channel c
	Now          sim.Time
	PinWithin    sim.Time // how long after the board's word has arrived the pin may still move
	ReportWithin sim.Time // how long after the pin the board may still tell
}

// Result is what has been decided, and what still waits for its other half.
type Result struct {
	Edges     []harness.Edge // in order of their times
	Conflicts []harness.Conflict
	Reported  []Reported
	Captured  []Captured
}

// Merge decides all edges that can be decided.
//
// An output without a pin has the board's word alone. With a pin, the first word and the first move
// not yet used belong together when they switch the same way. They agree when they lie no further
// apart than their uncertainties together: whatever their errors have in common, it can't explain
// more. Then the more certain one counts, the pin when they are alike; if they don't agree the pin
// counts, and the conflict is named. What finds no other half in time counts alone, and is a conflict.
func Merge(m Input) Result {
	var o Result
	for c := 1; c <= 16; c++ {
		told := filter(m.Reported, func(t Reported) bool { return t.Channel == c })
		seen := filter(m.Captured, func(s Captured) bool { return s.Channel == c })
		if m.Watched>>(c-1)&1 == 0 {
			for _, t := range told {
				o.count(t.Edge, t.time())
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

// time gives when the edge was by the board's word. A frame that arrived up to Late after the edge
// leaves it anywhere in that span with equal likelihood: the middle, and 2/sqrt(3) of half the span
// (JCGM 100:2008, 4.3.7, times k = 2).
func (t Reported) time() instant {
	if t.HasClock {
		return instant{t.At, t.Within}
	}
	return instant{t.Arrived - t.Late/2, sim.Time(math.Ceil(float64(t.Late) / math.Sqrt(3)))}
}

func (o *Result) count(e harness.Edge, i instant) {
	e.At, e.Within = i.at, i.within
	o.Edges = append(o.Edges, e)
}

// channel decides the edges of one output that a pin sees.
func (o *Result) channel(m *Input, told []Reported, seen []Captured) {
	for len(told) > 0 && len(seen) > 0 {
		switch t, s := &told[0], &seen[0]; {
		case t.On == s.On:
			o.pair(m.Bay, t, s)
			told, seen = told[1:], seen[1:]
		case t.time().at <= s.At: // the two switch different ways: the earlier one has no other half
			o.unseen(m.Bay, t)
			told = told[1:]
		default:
			o.untold(m.Bay, s)
			seen = seen[1:]
		}
	}
	for len(told) > 0 && m.Now-max(told[0].Arrived, told[0].time().at) > m.PinWithin {
		o.unseen(m.Bay, &told[0])
		told = told[1:]
	}
	for len(seen) > 0 && m.Now-seen[0].At > m.ReportWithin {
		o.untold(m.Bay, &seen[0])
		seen = seen[1:]
	}
	o.Reported, o.Captured = append(o.Reported, told...), append(o.Captured, seen...)
}

func (o *Result) pair(bay int, t *Reported, s *Captured) {
	word, pin := t.time(), instant{s.At, s.Within}
	apart := max(word.at-pin.at, pin.at-word.at)
	agree := apart <= word.within+pin.within
	if !agree {
		o.conflict(bay, t.Channel, t.On, &word, &pin)
	}
	if agree && word.within < pin.within {
		o.count(t.Edge, word)
		return
	}
	e := t.Edge
	if s.Basis != harness.ByTick {
		e.Basis = s.Basis
	}
	o.count(e, pin)
}

// unseen counts an edge of which only the board knows: its expectations are judged by its word, and
// the run fails by the conflict.
func (o *Result) unseen(bay int, t *Reported) {
	word := t.time()
	o.conflict(bay, t.Channel, t.On, &word, nil)
	o.count(t.Edge, word)
}

// untold counts an edge of which only the pin knows: the output did move, and had its effect.
func (o *Result) untold(bay int, s *Captured) {
	pin := instant{s.At, s.Within}
	o.conflict(bay, s.Channel, s.On, nil, &pin)
	o.count(harness.Edge{Output: sim.Output{Bay: bay, Channel: s.Channel, On: s.On}, Basis: s.Basis}, pin)
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
