// Package world joins flight, sensors and faults into one sim.Source: in each step the boards' outputs go in and
// the samples of their sensors come out. It has no physics of its own and never waits. A board gets nothing but
// its Frame. Equal setups and outputs give equal ticks.
package world

import (
	"drystage/sim"
	"drystage/sim/fault"
	"drystage/sim/flight"
	"drystage/sim/sensor"
)

// World is one flight under way. Its ticks are reused: Step doesn't allocate once warm.
type World struct {
	setup         *sim.Setup
	flight        *flight.Flight
	faults        *fault.Set
	bays          []bayState
	commands      commands
	charges       []charge
	charged       bool // an output has been on at a charge
	tick          sim.Tick
	delivered     []sim.Event // in ticks so far
	faultActivity uint64      // faults of the vehicle that have had an effect
	end           sim.Time    // of the run; sim.Never until its event has happened
	seen          int         // events known when the end was last resolved
	over          bool
}

var _ sim.Source = (*World)(nil)

// New puts the rocket on its pad with every board powered and booted. The setup must be checked, with all indices
// valid, and must not change while the World is in use.
func New(s *sim.Setup) *World {
	w := &World{
		setup:    s,
		flight:   flight.New(s),
		faults:   fault.New(s),
		bays:     make([]bayState, len(s.Bays)),
		commands: newCommands(s),
		charges:  newCharges(s),
		seen:     -1,
	}
	w.tick.Frames = make([]sim.Frame, len(s.Bays))
	for i := range w.bays {
		b := &s.Bays[i]
		w.bays[i] = bayState{spec: b, bank: sensor.New(s.Seed, s, i), on: make([]bool, len(b.Wires)), wires: wires{since: make([]sim.Time, len(b.Wires))}}
		w.bays[i].simple = w.faults.Empty() && b.Sensors.Battery.BrownOut <= 0 && !b.Checks
		w.bays[i].bank.SetShock(&w.flight.Shocks()[b.Stage], func(t sim.Time) sim.Shock { return w.flight.ShockAt(b.Stage, t) })
		w.tick.Frames[i] = sim.Frame{Bay: i, Powered: true}
	}
	return w
}

// Into makes the ticks from now on have their states in a slice of the caller's, one state per stage.
func (w *World) Into(states []sim.State) { w.flight.Into(states) }

// Step sets the outputs that switched, in their order and at the present time, flies to the next instant at which
// a part of any bay is due, and gives the tick. The first tick is at time 0. With the first tick at or beyond
// Setup.Until or Setup.Limit, ok is false; after that, t is nil. Outputs of bays that don't exist, and of channels
// without a wire, have no effect.
func (w *World) Step(outs []sim.Output) (t *sim.Tick, ok bool) {
	if w.over {
		return nil, false
	}
	for _, o := range outs {
		w.setOutput(o)
	}
	now := w.nextTick()
	w.flight.AdvanceTo(now)
	events := w.flight.Events()
	w.tick.Now, w.tick.Active, w.tick.States = now, w.newFaultActivity(), w.flight.States()
	w.tick.Injected = w.tick.Injected[:0]
	w.tick.Warnings = w.flight.AppendWarnings(w.tick.Warnings[:0])
	w.issueCommands(events)
	events = w.flight.Events()
	w.fireCharges()
	for i := range w.bays {
		w.fillFrame(i, events)
	}
	w.commands.deliver(&w.tick)
	w.deliverEvents(events)
	w.over = w.ended(events)
	return &w.tick, !w.over
}

// nextTick is the instant of the next tick; with no part fitted anywhere, the end.
func (w *World) nextTick() sim.Time {
	next := sim.Never
	for i := range w.bays {
		next = min(next, w.bays[i].bank.Next())
	}
	if next == sim.Never {
		return w.setup.Limit
	}
	return next
}

// issueCommands emits the events of the commands that are due now.
func (w *World) issueCommands(events []sim.Event) {
	w.commands.resolve(events, w.setup.Rehearsed)
	if len(w.setup.Marks) == 0 {
		return
	}
	for what := sim.CommandArm; what <= sim.CommandStage; what <<= 1 {
		if w.commands.due(w.tick.Now, what) {
			w.mark(sim.Mark{Command: what})
		}
	}
}

// fillFrame fills a bay's frame of this instant.
func (w *World) fillFrame(bay int, events []sim.Event) {
	f, s := &w.tick.Frames[bay], &w.bays[bay]
	f.Now, f.Commands = w.tick.Now, 0
	f.Due = s.bank.Next() <= f.Now
	st := &w.tick.States[s.spec.Stage]
	if s.simple {
		s.bank.Sample(st, f)
		return
	}
	w.supply(bay, events)
	s.bank.Sample(st, f)
	if !w.faults.Empty() {
		w.applyFaults(f, st, events)
	}
	w.checkWires(bay, events)
	if !f.Powered {
		f.Has = 0 // a board without power gets no sample
	}
}

// applyFaults applies the faults of a bay's sensors, clock and line to its frame.
func (w *World) applyFaults(f *sim.Frame, st *sim.State, events []sim.Event) {
	bay := f.Bay
	changed, injected := w.faults.Apply(f, st, events)
	skew, wrong := w.faults.ClockOffset(bay, f.Now, events)
	line, bad := w.faults.Line(bay, f.Now, events)
	f.Skew, f.Line = skew, line
	if !f.Powered {
		return
	}
	w.tick.Active |= changed | wrong
	if f.Has != 0 {
		w.tick.Active |= bad
	}
	w.tick.Injected = append(w.tick.Injected, injected...)
}

// deliverEvents puts the events found since the last tick into this one. Some, such as max_q, are found only after
// later ones, but stand before them in the list.
func (w *World) deliverEvents(events []sim.Event) {
	w.tick.Events = w.tick.Events[:0]
	if len(events) == len(w.delivered) {
		return
	}
	known := 0
	for _, e := range events {
		if known < len(w.delivered) && w.delivered[known] == e {
			known++
			continue
		}
		w.tick.Events = append(w.tick.Events, e)
	}
	w.delivered = append(w.delivered[:0], events...)
}

// newFaultActivity gives the vehicle faults that have had their first effect since the last tick.
func (w *World) newFaultActivity() uint64 {
	all := w.flight.FaultActivity()
	fresh := all &^ w.faultActivity
	w.faultActivity = all
	return fresh
}

func (w *World) ended(events []sim.Event) bool {
	if len(events) != w.seen {
		w.seen, w.end = len(events), sim.Never
		if end, ok := w.setup.Until.In(events); ok {
			w.end = end
		}
	}
	return w.tick.Now >= w.setup.Limit || w.tick.Now >= w.end
}
