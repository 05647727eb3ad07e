package verdict

import (
	"cmp"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// onInterval is an interval in which an output is on. If open, it was still on when the record ended, and off is that
// end.
type onInterval struct {
	on, off instant
	open    bool
}

// latestOn is the last time at which the output may have been on.
func (l *onInterval) latestOn() sim.Time {
	if l.open {
		return sim.Never
	}
	return l.off.high()
}

// String prints when the output was on.
func (l onInterval) String() string {
	if l.open {
		return "on at " + l.on.String() + ", still on at " + l.off.String()
	}
	return "on at " + l.on.String() + ", off at " + l.off.String()
}

// onIntervals gives the intervals in which an output was on, in order of time. Loss of power switches an output off. A
// repeated message that it is on, or off, changes nothing.
func (j *judge) onIntervals(c harness.Channel) []onInterval {
	var all []onInterval
	isOn := false
	for _, e := range j.edges(c) {
		switch at := (instant{e.At, e.Within}); {
		case e.On && !isOn:
			all = append(all, onInterval{on: at, off: instant{at: max(j.end, e.At)}, open: true})
		case !e.On && isOn:
			last := &all[len(all)-1]
			last.off, last.open = at, false
		}
		isOn = e.On
	}
	return all
}

// edges gives the edges of one output, and an edge to off at each loss of power, in order of time.
func (j *judge) edges(c harness.Channel) []harness.Edge {
	var es []harness.Edge
	for _, e := range j.rec.Outputs {
		if e.Bay == c.Bay && e.Channel == c.Channel {
			e.Within = add(size(e.Within), j.lateness(e.At))
			es = append(es, e)
		}
	}
	byTime := func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) }
	slices.SortStableFunc(es, byTime)
	if len(es) == 0 || j.flaw != "" {
		return es
	}
	last := es[len(es)-1]
	if last.On {
		last.At = sim.Never
	}
	for _, t := range powerLosses(j.rec, c.Bay, es[0].At, last.At) {
		es = append(es, harness.Edge{Output: sim.Output{Bay: c.Bay, Channel: c.Channel, At: t}})
	}
	slices.SortStableFunc(es, byTime)
	return es
}

// powerLosses gives the times in an interval at which a board lost its power.
func powerLosses(rec *harness.Record, bay int, from, to sim.Time) (all []sim.Time) {
	first, _ := slices.BinarySearch(rec.Times, from)
	powered := false
	for i := first - 1; i >= 0; i-- { // the last frame that was sent before tells
		if f := rec.Frame(i, bay); f.Due {
			powered = f.Powered
			break
		}
	}
	for i := first; i < len(rec.Times) && rec.Times[i] <= to; i++ {
		f := rec.Frame(i, bay)
		if !f.Due { // the frame was not sent, so its Powered doesn't count
			continue
		}
		if powered && !f.Powered {
			all = append(all, rec.Times[i])
		}
		powered = f.Powered
	}
	return all
}

// covered says that any edge of the bay up to t is in the record: it is complete, or it goes on after t for longer than
// the uncertainty of any edge of this bay.
func (j *judge) covered(bay int, t sim.Time) bool {
	if j.rec.Complete() {
		return true
	}
	slack := sim.Time(0)
	for _, e := range j.rec.Outputs {
		if e.Bay == bay {
			slack = max(slack, size(e.Within))
		}
	}
	return add(t, slack) <= j.end && t < sim.Never
}
