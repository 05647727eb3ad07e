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

// Told is an edge by the board's word. Its own clock's time counts where HasClock; else it happened
// in the span of Late that ended when its frame Arrived.
type Told struct {
	Channel       int
	On            bool
	At, Within    sim.Time // by the board's clock, and its expanded uncertainty (k = 2)
	HasClock      bool
	Arrived, Late sim.Time
}

// Seen is an edge by the pin, corrected by the delay of its path.
type Seen struct {
	Channel    int
	On         bool
	At, Within sim.Time
}

// Matter is what is known at an instant, both kinds in order of their times.
type Matter struct {
	Bay     int
	Told    []Told
	Seen    []Seen
	Watched uint16 // bit c-1: a pin sees channel c
	Now     sim.Time
	SeeBy   sim.Time // how long after the board's word the pin may still move
	TellBy  sim.Time // how long after the pin the board may still tell
}

// Outcome is what has been decided, and what still waits for its other half.
type Outcome struct {
	Edges     []harness.Edge // in order of their times
	Conflicts []harness.Conflict
	Told      []Told
	Seen      []Seen
}

// Merge decides all edges that can be decided.
//
// An output without a pin has the board's word alone. With a pin, the first word and the first move
// not yet used belong together when they switch the same way. They agree when they lie no further
// apart than their uncertainties together: whatever their errors have in common, it can't explain
// more. Then the more certain one counts, the pin when they are alike; if they don't agree the pin
// counts, and the conflict is named. What finds no other half in time counts alone, and is a conflict.
func Merge(m Matter) Outcome {
	var o Outcome
	for c := 1; c <= 16; c++ {
		told := filter(m.Told, func(t Told) bool { return t.Channel == c })
		seen := filter(m.Seen, func(s Seen) bool { return s.Channel == c })
		if m.Watched>>(c-1)&1 == 0 {
			for _, t := range told {
				o.count(m.Bay, t.Channel, t.On, t.time())
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
func (t Told) time() instant {
	if t.HasClock {
		return instant{t.At, t.Within}
	}
	return instant{t.Arrived - t.Late/2, sim.Time(math.Ceil(float64(t.Late) / math.Sqrt(3)))}
}

func (o *Outcome) count(bay, channel int, on bool, i instant) {
	o.Edges = append(o.Edges, harness.Edge{Output: sim.Output{Bay: bay, Channel: channel, On: on, At: i.at}, Within: i.within})
}

// channel decides the edges of one output that a pin sees.
func (o *Outcome) channel(m *Matter, told []Told, seen []Seen) {
	for len(told) > 0 && len(seen) > 0 {
		t, s := told[0].time(), instant{seen[0].At, seen[0].Within}
		switch {
		case told[0].On == seen[0].On:
			o.pair(m.Bay, told[0].Channel, told[0].On, t, s)
			told, seen = told[1:], seen[1:]
		case t.at <= s.at: // the two switch different ways: the earlier one has no other half
			o.alone(m.Bay, told[0].Channel, told[0].On, &t, nil)
			told = told[1:]
		default:
			o.alone(m.Bay, seen[0].Channel, seen[0].On, nil, &s)
			seen = seen[1:]
		}
	}
	for len(told) > 0 && m.Now-told[0].time().at > m.SeeBy {
		t := told[0].time()
		o.alone(m.Bay, told[0].Channel, told[0].On, &t, nil)
		told = told[1:]
	}
	for len(seen) > 0 && m.Now-seen[0].At > m.TellBy {
		o.alone(m.Bay, seen[0].Channel, seen[0].On, nil, &instant{seen[0].At, seen[0].Within})
		seen = seen[1:]
	}
	o.Told, o.Seen = append(o.Told, told...), append(o.Seen, seen...)
}

func (o *Outcome) pair(bay, channel int, on bool, t, s instant) {
	apart := max(t.at-s.at, s.at-t.at)
	switch {
	case apart > t.within+s.within:
		o.conflict(bay, channel, on, &t, &s)
		o.count(bay, channel, on, s)
	case t.within < s.within:
		o.count(bay, channel, on, t)
	default:
		o.count(bay, channel, on, s)
	}
}

// alone counts an edge of which only one side knows: if the output did move it had its effect, and if
// only the board says so, its expectation is judged by its word and the run fails by the conflict.
func (o *Outcome) alone(bay, channel int, on bool, t, s *instant) {
	o.conflict(bay, channel, on, t, s)
	if t == nil {
		t = s
	}
	o.count(bay, channel, on, *t)
}

func (o *Outcome) conflict(bay, channel int, on bool, t, s *instant) {
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
