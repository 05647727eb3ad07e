package audit

import (
	"fmt"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/clock"
)

// checkConsistency compares redundant data of a record. An incomplete record never passes anyway.
func (a *audit) checkConsistency() {
	if n, bays := len(a.rec.Health), len(a.rec.Plan.Setup.Bays); n != bays {
		a.doubt("the record agrees with itself", fmt.Sprintf("it has the health of %d boards, and %d flew", n, bays))
		return
	}
	for _, why := range []string{a.health(), a.reports(), a.pace(), a.outputs(), a.clocks()} {
		if why != "" {
			a.doubt("the record agrees with itself", why)
		}
	}
}

// health compares each board's health with the last of its changes.
func (a *audit) health() string {
	for i := range a.rec.Health {
		var last harness.HealthChange
		for _, x := range a.rec.Changes {
			if x.Bay == i {
				last = x
			}
		}
		if h := a.rec.Health[i]; last.Health.Changed(h) {
			last.RoundTrips, last.Reports = h.RoundTrips, h.Reports
			d := firstDifference(&h, &last.Health, false)
			return fmt.Sprintf("Health[%d].%s is %s at the end, and was %s at %s, when it last changed", i, d.where, d.a, d.b, last.At)
		}
	}
	for _, x := range a.rec.Changes {
		if x.Bay < 0 || x.Bay >= len(a.rec.Health) {
			return fmt.Sprintf("it has the health of %d boards, and a change of that of board %d", len(a.rec.Health), x.Bay)
		}
	}
	return ""
}

// reports compares the number of reports with the boards' health.
func (a *audit) reports() string {
	n := make([]int, len(a.rec.Health))
	for _, r := range a.rec.Reports {
		if r.Bay < 0 || r.Bay >= len(n) {
			return fmt.Sprintf("a report of %s is of board %d of %d", r.At, r.Bay, len(n))
		}
		n[r.Bay]++
	}
	for i, h := range a.rec.Health {
		if h.Reports != n[i] {
			return fmt.Sprintf("board %d reported %d times, and %d reports are on record", i, h.Reports, n[i])
		}
	}
	return ""
}

// pace checks that a lockstep run has no clock times, and that the number of exchanges is right.
func (a *audit) pace() string {
	r := a.rec
	if r.Pace.RealTime {
		return ""
	}
	if r.Pace != (harness.Pace{}) || len(r.Late) > 0 || len(r.Readings) > 0 || len(r.Clocks) > 0 {
		return "it holds times of a clock, and says that it was flown in lockstep"
	}
	if r.Cause != "" {
		return ""
	}
	for i := range r.Health {
		trips, lives, was := 0, 0, false
		for k := range r.Times {
			f := r.Frame(k, i)
			if f.Powered && f.Due {
				trips++
			}
			if f.Powered && !was {
				lives++
			}
			was = f.Powered
		}
		switch h := &r.Health[i]; {
		case h.RoundTrips != trips:
			return fmt.Sprintf("board %d answered %d times, and was asked %d times", i, h.RoundTrips, trips)
		case h.Boots < lives || h.Boots > lives+h.Unasked:
			return fmt.Sprintf("board %d shook hands %d times, was given its supply %d times and restarted %d times by itself", i, h.Boots, lives, h.Unasked)
		}
	}
	return ""
}

// outputs compares the outputs with those applied to the flight. In lockstep without a rig they are the same; else the
// times may be better, but the sequence of edges is the same.
func (a *audit) outputs() string {
	r := a.rec
	if len(r.Conflicts) > 0 { // a pin and a board disagree, so the verdict is fail anyway
		return ""
	}
	if r.Pace.RealTime || r.Made.Rig != "" {
		return checkSequence(r)
	}
	if len(r.Unmeasured) > 0 {
		return "it speaks of pins, and of no rig"
	}
	if len(r.Outputs) != len(r.FlightOutputs) {
		return fmt.Sprintf("%d edges are on record, and the flight felt %d", len(r.Outputs), len(r.FlightOutputs))
	}
	for i, e := range r.Outputs {
		if e.Output != r.FlightOutputs[i] || e.Bay < 0 || e.Bay >= len(r.Plan.Setup.Bays) {
			return fmt.Sprintf("edge %d is output %d of board %d at %s, and the flight felt output %d of board %d at %s",
				i, e.Channel, e.Bay, e.At, r.FlightOutputs[i].Channel, r.FlightOutputs[i].Bay, r.FlightOutputs[i].At)
		}
		want := harness.Edge{Output: e.Output, Within: board.EdgeUncertainty(&r.Plan.Setup.Bays[e.Bay].Sensors)}
		if d := firstDifference(&e, &want, false); d != nil {
			return fmt.Sprintf("edge %d: %s is %s, and %s in lockstep", i, d.where, d.a, d.b)
		}
	}
	return ""
}

// checkSequence compares the sequence of edges of each output with that applied to the flight.
func checkSequence(r *harness.Record) string {
	type output struct{ bay, channel int }
	applied := map[output][]bool{}
	for _, o := range r.FlightOutputs {
		k := output{o.Bay, o.Channel}
		applied[k] = append(applied[k], o.On)
	}
	for _, e := range r.Outputs {
		k := output{e.Bay, e.Channel}
		if len(applied[k]) == 0 || applied[k][0] != e.On {
			return fmt.Sprintf("output %d of board %d at %s is not as the flight felt it", e.Channel, e.Bay, e.At)
		}
		applied[k] = applied[k][1:]
	}
	for _, o := range r.FlightOutputs {
		if len(applied[output{o.Bay, o.Channel}]) > 0 {
			return fmt.Sprintf("the flight felt output %d of board %d at %s, and the edge is not on record", o.Channel, o.Bay, o.At)
		}
	}
	return ""
}

// clocks fits the boards' clocks again and, without a rig, recomputes the times of edges.
func (a *audit) clocks() string {
	r := a.rec
	if !r.Pace.RealTime {
		return ""
	}
	again := harness.Record{Readings: r.Readings}
	for _, e := range r.Outputs {
		if e.Basis == harness.ByPin && e.Came == 0 { // only its pin has seen it
			continue
		}
		if e.Basis != harness.ByTick {
			e.Basis = harness.ByArrival
			if e.Stamp != 0 {
				e.Basis = harness.ByClock
			}
		}
		again.Outputs = append(again.Outputs, e)
	}
	clock.AssignTimes(&again)
	type both struct {
		Clocks  []harness.BoardClock
		Outputs []harness.Edge
	}
	x, y := both{r.Clocks, r.Outputs}, both{again.Clocks, again.Outputs}
	if r.Made.Rig != "" {
		x.Outputs, y.Outputs = nil, nil
	}
	if d := firstDifference(&x, &y, false); d != nil {
		return fmt.Sprintf("%s is %s, and %s when the clock is fitted again", d.where, d.a, d.b)
	}
	return ""
}
