package audit

import (
	"cmp"
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// refly steps the source with the recorded outputs, and says at which tick the record first differs; empty if it
// doesn't.
func refly(rec *harness.Record, src sim.Source) string {
	stages, bays := len(rec.Plan.Setup.Vehicle.Stages), len(rec.Plan.Setup.Bays)
	var events []sim.Event
	var warnings []sim.Warning // all up to the last tick
	var outs []sim.Output
	outputs, injected, more := rec.FlightOutputs, rec.Injected, true
	for i, now := range rec.Times {
		if !more {
			return fmt.Sprintf("it ends at %s, and the record has %d more ticks", rec.Times[i-1], len(rec.Times)-i)
		}
		var t *sim.Tick
		if t, more = src.Step(outs); t == nil {
			return fmt.Sprintf("tick %d at %s is not there", i, now)
		}
		n := len(injected)
		if k := slices.IndexFunc(injected, func(x sim.Injection) bool { return x.At != t.Now }); k >= 0 {
			n = k
		}
		is := sim.Tick{
			Now: now, Active: rec.Active[i], States: rec.States[i*stages : (i+1)*stages], Frames: rec.Frames[i*bays : (i+1)*bays], Injected: injected[:n],
		}
		if d := tickDifference(&is, t); d != nil {
			return fmt.Sprintf("in tick %d at %s, %s is %s, and %s when it is flown again", i, now, d.where, d.a, d.b)
		}
		injected, events = injected[n:], append(events, t.Events...)
		warnings = append(warnings[:0], t.Warnings...)
		if outs, outputs = take(outs[:0], outputs, now); len(outputs) > 0 && outputs[0].At < now {
			break
		}
	}
	switch {
	case len(outputs) > 0:
		return fmt.Sprintf("an output that it felt at %s is of no tick, or out of its order", outputs[0].At)
	case more && rec.Cause == "":
		return fmt.Sprintf("it goes on, and the record ends after %d ticks", len(rec.Times))
	case len(injected) > 0:
		return fmt.Sprintf("an injection at %s is of no tick, or out of its order", injected[0].At)
	}
	slices.SortStableFunc(events, func(a, b sim.Event) int { return cmp.Compare(a.At, b.At) }) // as the bench does
	type told struct {
		Events   []sim.Event
		Warnings []sim.Warning
	}
	if d := firstDifference(&told{rec.Events, rec.Warnings}, &told{events, warnings}, false); d != nil {
		return fmt.Sprintf("%s is %s, and %s when it is flown again", d.where, d.a, d.b)
	}
	return ""
}

// take moves the outputs of one tick to those for the next step.
func take(outs, outputs []sim.Output, now sim.Time) (given, left []sim.Output) {
	n := 0
	for n < len(outputs) && outputs[n].At == now {
		n++
	}
	return append(outs, outputs[:n]...), outputs[n:]
}

// tickDifference compares two ticks except for their events and warnings. Most are equal, which is found quickly.
func tickDifference(a, b *sim.Tick) *difference {
	if a.Now == b.Now && a.Active == b.Active && slices.Equal(a.States, b.States) && slices.Equal(a.Frames, b.Frames) && slices.Equal(a.Injected, b.Injected) {
		return nil
	}
	x, y := *a, *b
	x.Events, y.Events, x.Warnings, y.Warnings = nil, nil, nil, nil
	return firstDifference(&x, &y, false)
}
