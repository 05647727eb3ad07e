// Package world joins flight, sensors and faults into one sim.Source: the outputs of the boards go in,
// what their sensors say comes out, instant by instant. It holds no physics of its own, never waits,
// and gives a board nothing but its Frame. Equal setups and outputs give equal ticks.
package world

import (
	"drystage/sim"
	"drystage/sim/fault"
	"drystage/sim/flight"
	"drystage/sim/sensor"
)

// World is one flight under way. Its ticks are reused: Step doesn't allocate once warm.
type World struct {
	setup    *sim.Setup
	flight   *flight.Flight
	faults   *fault.Set
	seats    []seat
	commands commands
	charges  []charge
	tick     sim.Tick
	told     []sim.Event // delivered in ticks so far
	faulted  uint64      // faults of the vehicle that have shown
	end      sim.Time    // of the run; sim.Never until its event has happened
	seen     int         // events known when the end was last looked up
	over     bool
}

var _ sim.Source = (*World)(nil)

// New puts the rocket on its pad with every board powered and booted. The setup must be a checked
// one, whose indices all point somewhere, and stay unchanged while the World is in use.
func New(s *sim.Setup) *World {
	w := &World{
		setup:    s,
		flight:   flight.New(s),
		faults:   fault.New(s),
		seats:    make([]seat, len(s.Bays)),
		commands: newCommands(s),
		charges:  newCharges(s),
		seen:     -1,
	}
	w.tick.Frames = make([]sim.Frame, len(s.Bays))
	for i := range w.seats {
		b := &s.Bays[i]
		w.seats[i] = seat{bay: b, bank: sensor.New(s.Seed, s, i), on: make([]bool, len(b.Wires))}
		w.tick.Frames[i] = sim.Frame{Bay: i, Powered: true}
	}
	return w
}

// Step drives the wires of the outputs that switched, in their order and at the present time, flies
// to the next instant at which a part of any bay is due, and gives what is there. The first tick is at
// time 0. With the first tick at or beyond Setup.Until or Setup.Limit, ok is false; after that, t is
// nil. Outputs of bays or channels that nothing is wired to do nothing.
func (w *World) Step(outs []sim.Output) (t *sim.Tick, ok bool) {
	if w.over {
		return nil, false
	}
	for _, o := range outs {
		w.drive(o)
	}
	now := w.next()
	w.flight.AdvanceTo(now)
	events := w.flight.Events()
	w.tick.Now, w.tick.Active, w.tick.States = now, w.newlyFaulted(), w.flight.States()
	w.tick.Injected = w.tick.Injected[:0]
	w.tick.Warnings = w.flight.AppendWarnings(w.tick.Warnings[:0])
	w.command(events)
	events = w.flight.Events()
	w.blast()
	for i := range w.seats {
		w.fill(i, events)
	}
	w.commands.give(&w.tick)
	w.tell(events)
	w.over = w.ended(events)
	return &w.tick, !w.over
}

// next is the instant of the next tick; with no part fitted anywhere, the end.
func (w *World) next() sim.Time {
	next := sim.Never
	for i := range w.seats {
		next = min(next, w.seats[i].bank.Next())
	}
	if next == sim.Never {
		return w.setup.Limit
	}
	return next
}

// command makes events of the commands that are due now.
func (w *World) command(events []sim.Event) {
	w.commands.look(events, w.setup.Rehearsed)
	if len(w.setup.Marks) == 0 {
		return
	}
	for what := sim.CommandArm; what <= sim.CommandStage; what <<= 1 {
		if w.commands.due(w.tick.Now, what) {
			w.mark(sim.Mark{Command: what})
		}
	}
}

// fill gives a bay its frame of this instant.
func (w *World) fill(bay int, events []sim.Event) {
	f, s := &w.tick.Frames[bay], &w.seats[bay]
	f.Now, f.Commands = w.tick.Now, 0
	f.Due = s.bank.Next() <= f.Now
	w.supply(bay, events)
	st := &w.tick.States[s.bay.Stage]
	s.bank.Sample(st, f)
	changed, did := w.faults.Sense(f, st, events)
	skew, wrong := w.faults.Clock(bay, f.Now, events)
	line, bad := w.faults.Line(bay, f.Now, events)
	f.Skew, f.Line = skew, line
	if f.Powered {
		w.tick.Active |= changed | wrong
		if f.Has != 0 {
			w.tick.Active |= bad
		}
		if len(did) > 0 {
			w.tick.Injected = append(w.tick.Injected, did...)
		}
	} else {
		f.Has = 0 // nobody there to be given a sample, spoilt or not
	}
}

// tell puts the events found since the last tick into this one. Some, such as max_q, are known only
// after later ones and stand before them in the list.
func (w *World) tell(events []sim.Event) {
	w.tick.Events = w.tick.Events[:0]
	if len(events) == len(w.told) {
		return
	}
	known := 0
	for _, e := range events {
		if known < len(w.told) && w.told[known] == e {
			known++
			continue
		}
		w.tick.Events = append(w.tick.Events, e)
	}
	w.told = append(w.told[:0], events...)
}

// newlyFaulted gives the faults of the vehicle that show for the first time.
func (w *World) newlyFaulted() uint64 {
	all := w.flight.FaultActivity()
	fresh := all &^ w.faulted
	w.faulted = all
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
