package world

import "drystage/sim"

const (
	shortResistance = 0.1        // ohm, of a short with its leads. Common practice, no source.
	checkEvery      = sim.Second // between two words of a continuity check in which nothing has changed
)

// wires is the state of the circuits at a board's outputs.
type wires struct {
	faults sim.Circuits // by faults, at the last tick
	burnt  uint16       // igniters that have had their current, which opens them; bit c-1: channel c
	since  []sim.Time   // per wire: when it was switched on
	told   sim.Circuits // what the board has been told last
	toldAt sim.Time
	known  bool // the board has been told since it has power
}

func channelBit(channel int) uint16 { return uint16(1) << (channel - 1) }

// sound says that a wire's circuit is neither open nor shorted by a fault.
func (s *bayState) sound(wire int) bool {
	return (s.wires.faults.Open|s.wires.faults.Short)&channelBit(s.spec.Wires[wire].Channel) == 0
}

// resistance is what an output drives, in ohm; 0: nothing.
func (s *bayState) resistance(wire int) float64 {
	switch bit := channelBit(s.spec.Wires[wire].Channel); {
	case s.wires.faults.Open&bit != 0:
		return 0
	case s.wires.faults.Short&bit != 0:
		return shortResistance
	}
	return s.spec.Wires[wire].Load
}

// checkWires finds which circuits are open or shorted at this instant, with what that does to outputs that are on, and
// tells the board if it measures that.
func (w *World) checkWires(bay int, events []sim.Event) {
	f, s := &w.tick.Frames[bay], &w.bays[bay]
	faults, active := w.faults.Wires(bay, f.Now, events)
	w.tick.Active |= active
	if faults != s.wires.faults {
		s.wires.faults = faults
		for i, on := range s.on {
			w.setWire(s, i, on)
		}
	}
	if !s.spec.Checks {
		return
	}
	f.Circuits = sim.Circuits{Open: faults.Open | ^s.connected(), Short: faults.Short}
	for i, on := range s.on {
		bit := channelBit(s.spec.Wires[i].Channel)
		if on && s.sound(i) && f.Now-s.wires.since[i] >= w.pulse(s.spec.Wires[i].Effect) {
			s.wires.burnt |= bit
		}
		f.Circuits.Open |= s.wires.burnt & bit &^ faults.Short
	}
	s.wires.known = s.wires.known && f.Powered
	if f.Powered && f.Due && (!s.wires.known || f.Circuits != s.wires.told || f.Now-s.wires.toldAt >= checkEvery) {
		f.Has |= sim.HasCircuits
		s.wires.known, s.wires.told, s.wires.toldAt = true, f.Circuits, f.Now
	}
}

// connected are the channels of which the board's file says that something hangs on them.
func (s *bayState) connected() (bits uint16) {
	for _, x := range s.spec.Wires {
		if x.Effect.Kind != sim.Nothing || x.Load > 0 {
			bits |= channelBit(x.Channel)
		}
	}
	return bits
}

// pulse is how long an output must be on until its igniter has burnt.
func (w *World) pulse(e sim.Effect) sim.Time {
	v := &w.setup.Vehicle
	switch e.Kind {
	case sim.Ignite:
		return v.Stages[e.Stage].Mount.Igniter.Pulse
	case sim.Deploy:
		return v.Stages[e.Stage].Recovery[e.Device].Pulse
	}
	return 0
}
