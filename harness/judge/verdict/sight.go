package verdict

import (
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// Sight is what Judge looks at where outputs are concerned: when each was on, and where in this flight it
// had to switch on or stay dark. It is for pictures; the numbers are those that were judged.
type Sight struct {
	Outputs []Lit // of each board its wires in order, then what else switched
	Demands []Demand
}

// Lit tells when one output was on.
type Lit struct {
	Channel    harness.Channel
	Undeclared bool    // no file says what it does
	Lights     []Light // in order of time
}

// Light is a stretch of time for which an output was on, with the expanded uncertainties (k = 2) of its
// ends. While Open it was still on when the record ended, and Off is that end.
type Light struct {
	On, Off             sim.Time
	OnWithin, OffWithin sim.Time
	Open                bool
}

// Demand is where an expectation wants an output to switch on, or to be dark.
type Demand struct {
	Expect int // index into Plan.Expect
	Output harness.Channel
	Dark   bool // it has to be dark all through the spans; else it has to switch on in the one span
	// Spans are those of this flight, in order of time; none, when its window can't be found or no quantity was
	// out of bounds.
	Spans []Span
}

// Span is a stretch of time. An open end lies at -sim.Never or sim.Never.
type Span struct{ From, To sim.Time }

// See gives what Judge sees of a record's outputs. ok is false for a record so malformed that nothing in it
// can be looked at.
func See(rec *harness.Record) (s Sight, ok bool) {
	j := newJudge(rec)
	if j.flaw != "" {
		return s, false
	}
	for _, c := range j.channels() {
		lit := Lit{Channel: c, Undeclared: !j.wired(c)}
		for _, l := range j.lights(c) {
			lit.Lights = append(lit.Lights, Light{l.on.at, l.off.at, l.on.within, l.off.within, l.open})
		}
		s.Outputs = append(s.Outputs, lit)
	}
	for i := range rec.Plan.Expect {
		e := &rec.Plan.Expect[i]
		if e.Kind == harness.Fires || e.Kind == harness.Never {
			if j.unfit(e) == "" {
				s.Demands = append(s.Demands, Demand{i, e.Output, e.Kind == harness.Never, j.demanded(e)})
			}
		}
	}
	return s, true
}

// channels lists every output that has a wire, or that switched without one.
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

// demanded gives the stretches of time that an expectation of kind Fires or Never speaks of in this flight.
func (j *judge) demanded(e *harness.Expectation) []Span {
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
		if !j.out(e, &w, from, to) {
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
