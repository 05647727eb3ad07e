package world

import (
	"drystage/sim"
	"drystage/sim/sensor"
)

// seat is what the world keeps for one bay: its sensors, the level of each wire, its supply.
type seat struct {
	bay   *sim.Bay
	bank  *sensor.Bank
	on    []bool   // per wire
	load  float64  // 1/ohm, of all that is on
	ready sim.Time // when the board has booted after its last power cut
	low   bool     // the supply is below the level at which the board resets
	since sim.Time // and has been since then
}

// drive puts an output's level on its wires. A board without power can't switch anything on.
func (w *World) drive(o sim.Output) {
	if o.Bay < 0 || o.Bay >= len(w.seats) || o.On && !w.tick.Frames[o.Bay].Powered {
		return
	}
	if o.On {
		w.mark(sim.Mark{Bay: o.Bay, Channel: o.Channel})
	}
	s := &w.seats[o.Bay]
	for i := range s.bay.Wires {
		if s.bay.Wires[i].Channel == o.Channel {
			w.set(s, i, o.On)
		}
	}
}

// set switches one wire. Where several wires do the same, the effect is on while any of them is.
func (w *World) set(s *seat, wire int, on bool) {
	s.on[wire] = on
	s.load = 0
	for i := range s.on {
		if r := s.bay.Wires[i].Load; s.on[i] && r > 0 {
			s.load += 1 / r
		}
	}
	e := s.bay.Wires[wire].Effect
	if e.Kind == sim.Nothing {
		return
	}
	level := on || w.driven(e)
	w.press(e, level)
	w.flight.SetOutput(e, level)
}

// driven says whether any wire has an effect on.
func (w *World) driven(e sim.Effect) bool {
	for i := range w.seats {
		for j, on := range w.seats[i].on {
			if on && w.seats[i].bay.Wires[j].Effect == e {
				return true
			}
		}
	}
	return false
}

// supply sets whether a bay has power at this instant, and lets its wires go when it has not. A board
// is without power during a cut, or while its battery is below the level at which it resets, and until
// Boot after the last such instant.
func (w *World) supply(bay int, events []sim.Event) {
	f, s := &w.tick.Frames[bay], &w.seats[bay]
	on, cut := w.faults.Powered(bay, f.Now, events)
	w.tick.Active |= cut
	lost, sagged := w.faults.Sag(bay, f.Now, events)
	s.bank.Load(s.load, lost)
	w.tick.Active |= sagged
	if s.brownOut(f.Now) {
		on = false
	}
	if !on {
		s.ready = f.Now + s.bay.Boot
		for i, high := range s.on {
			if high {
				w.set(s, i, false)
			}
		}
	}
	powered := on && f.Now >= s.ready
	f.Due = f.Due || powered != f.Powered
	f.Powered = powered
}

// brownOut says whether the supply has been too low for longer than the board can bear.
func (s *seat) brownOut(now sim.Time) bool {
	b := &s.bay.Sensors.Battery
	if b.BrownOut <= 0 || s.bank.Rail(now) >= b.BrownOut {
		s.low = false
		return false
	}
	if !s.low {
		s.low, s.since = true, now
	}
	return now-s.since >= sim.Seconds(b.HoldUp)
}

// mark makes an event of what a board or the operator does, if the setup asks for it.
func (w *World) mark(m sim.Mark) {
	for _, want := range w.setup.Marks {
		if m.Name = want.Name; m == want {
			w.flight.AddEvent(want.Name)
		}
	}
}
