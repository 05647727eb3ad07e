package world

import (
	"drystage/sim"
	"drystage/sim/sensor"
)

// bayState is the state of one bay: its sensors, the level of each wire, its supply.
type bayState struct {
	spec     *sim.Bay
	bank     *sensor.Bank
	simple   bool   // no fault can be felt here, and its supply can't fail
	on       []bool // per wire
	wires    wires
	load     float64  // 1/ohm, of all that is on
	readyAt  sim.Time // when the board has booted after its last power cut
	low      bool     // the supply is below the brown-out voltage
	lowSince sim.Time // and has been since then
}

// setOutput sets the wires of an output. A board without power can't switch anything on.
func (w *World) setOutput(o sim.Output) {
	if o.Bay < 0 || o.Bay >= len(w.bays) || o.On && !w.tick.Frames[o.Bay].Powered {
		return
	}
	if o.On {
		w.mark(sim.Mark{Bay: o.Bay, Channel: o.Channel})
	}
	s := &w.bays[o.Bay]
	for i := range s.spec.Wires {
		if s.spec.Wires[i].Channel == o.Channel {
			w.setWire(s, i, o.On)
		}
	}
}

// setWire switches one wire. If several wires have the same effect, it is on while any of them is.
func (w *World) setWire(s *bayState, wire int, on bool) {
	if on && !s.on[wire] {
		s.wires.since[wire] = w.tick.Now
	}
	s.on[wire] = on
	s.load = 0
	for i := range s.on {
		if r := s.resistance(i); s.on[i] && r > 0 {
			s.load += 1 / r
		}
	}
	if s.simple {
		s.bank.SetLoad(s.load, 0)
	}
	e := s.spec.Wires[wire].Effect
	if e.Kind == sim.Nothing {
		return
	}
	level := w.isOn(e)
	w.setCharge(e, level)
	w.flight.SetOutput(e, level)
}

// isOn says whether any sound wire has an effect on.
func (w *World) isOn(e sim.Effect) bool {
	for i := range w.bays {
		for j, on := range w.bays[i].on {
			if on && w.bays[i].spec.Wires[j].Effect == e && w.bays[i].sound(j) {
				return true
			}
		}
	}
	return false
}

// supply sets whether a bay has power at this instant, and switches its outputs off when it has not. A board is
// without power during a cut, during a brown-out, and until Boot after the last such instant.
func (w *World) supply(bay int, events []sim.Event) {
	f, s := &w.tick.Frames[bay], &w.bays[bay]
	on, lost := true, 0.0
	if !w.faults.Empty() {
		var cut, sagged uint64
		on, cut = w.faults.Powered(bay, f.Now, events)
		lost, sagged = w.faults.VoltageDrop(bay, f.Now, events)
		w.tick.Active |= cut | sagged
	}
	s.bank.SetLoad(s.load, lost)
	if s.brownOut(f.Now) {
		on = false
	}
	if !on {
		s.readyAt = f.Now + s.spec.Boot
		for i, high := range s.on {
			if high {
				w.setWire(s, i, false)
			}
		}
	}
	powered := on && f.Now >= s.readyAt
	f.Due = f.Due || powered != f.Powered
	f.Powered = powered
}

// brownOut says whether the supply has been too low for longer than the board's hold-up time.
func (s *bayState) brownOut(now sim.Time) bool {
	b := &s.spec.Sensors.Battery
	if b.BrownOut <= 0 || s.bank.SupplyVoltage(now) >= b.BrownOut {
		s.low = false
		return false
	}
	if !s.low {
		s.low, s.lowSince = true, now
	}
	return now-s.lowSince >= sim.Seconds(b.HoldUp)
}

// mark emits an event for what a board or the operator does, if the setup has a mark for it.
func (w *World) mark(m sim.Mark) {
	for _, want := range w.setup.Marks {
		if m.Name = want.Name; m == want {
			w.flight.AddEvent(want.Name)
		}
	}
}
