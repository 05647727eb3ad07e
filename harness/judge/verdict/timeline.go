package verdict

import (
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// Timeline says when each output was on, and when in this flight it had to switch on or stay off. It is for pictures and
// has the same numbers that Judge uses.
type Timeline struct {
	Outputs      []OutputHistory // for each board its wires in order, then other outputs that switched
	Requirements []Requirement
}

// OutputHistory says when one output was on.
type OutputHistory struct {
	Channel    harness.Channel
	Undeclared bool         // no file declares it
	On         []OnInterval // in order of time
}

// OnInterval is an interval in which an output was on, with the expanded uncertainties (k = 2) of its ends. If Open, it
// was still on when the record ended, and Off is that end.
type OnInterval struct {
	On, Off             sim.Time
	OnWithin, OffWithin sim.Time
	Open                bool
}

// Requirement is when an expectation requires an output to switch on, or to be off.
type Requirement struct {
	Expect int // index into Plan.Expect
	Output harness.Channel
	Never  bool // it has to be off in all spans; else it has to switch on in the one span
	// Spans are those of this flight, in order of time. There are none if the window can't be found or the quantity
	// was never out of bounds.
	Spans []Span
}

// Span is an interval of time. An open end is -sim.Never or sim.Never.
type Span struct{ From, To sim.Time }

// TimelineOf gives the timeline of a record's outputs. ok is false for a malformed record.
func TimelineOf(rec *harness.Record) (s Timeline, ok bool) {
	j := newJudge(rec, rec.Flaw())
	if j.flaw != "" {
		return s, false
	}
	for _, c := range j.channels() {
		h := OutputHistory{Channel: c, Undeclared: !j.declared(c)}
		for _, l := range j.onIntervals(c) {
			h.On = append(h.On, OnInterval{l.on.at, l.off.at, l.on.within, l.off.within, l.open})
		}
		s.Outputs = append(s.Outputs, h)
	}
	for i := range rec.Plan.Expect {
		e := &rec.Plan.Expect[i]
		if e.Kind == harness.Fires || e.Kind == harness.Never {
			if j.notJudgeable(e) == "" {
				s.Requirements = append(s.Requirements, Requirement{i, e.Output, e.Kind == harness.Never, j.requiredSpans(e)})
			}
		}
	}
	return s, true
}

// channels lists every output that is declared or that switched.
func (j *judge) channels() (cs []harness.Channel) {
	for i := range j.rec.Plan.Setup.Bays {
		for _, w := range j.rec.Plan.Setup.Bays[i].Wires {
			cs = append(cs, harness.Channel{Bay: i, Channel: w.Channel, Name: j.output(i, w.Channel)})
		}
		for _, e := range j.rec.Outputs {
			known := slices.ContainsFunc(cs, func(c harness.Channel) bool { return c.Bay == e.Bay && c.Channel == e.Channel })
			if e.Bay == i && !known {
				cs = append(cs, harness.Channel{Bay: i, Channel: e.Channel, Name: j.output(i, e.Channel)})
			}
		}
	}
	return cs
}

// requiredSpans gives the intervals of an expectation of kind Fires or Never in this flight.
func (j *judge) requiredSpans(e *harness.Expectation) []Span {
	w := j.window(e)
	switch {
	case w.noFrom != "", w.empty(), e.Kind == harness.Fires && w.noTo != "":
		return nil
	case w.noTo != "":
		w.to = sim.Never
	}
	if e.Kind == harness.Fires || e.Quantity == sim.NoQuantity {
		return []Span{{w.from, w.to}}
	}
	var spans []Span
	for i := 0; i+1 < len(j.rec.Times); i++ {
		from, to := j.rec.Times[i], j.rec.Times[i+1]
		if !j.outOfBounds(e, &w, from, to) {
			continue
		}
		if n := len(spans); n > 0 && spans[n-1].To == from {
			spans[n-1].To = min(to, w.to)
		} else {
			spans = append(spans, Span{max(from, w.from), min(to, w.to)})
		}
	}
	return spans
}
