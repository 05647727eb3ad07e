package world

import "drystage/sim"

// charge is a pyrotechnic charge, whose pressure the barometers of its own stage feel.
type charge struct {
	effect    sim.Effect
	pulse     sim.Time // for which its output must be on
	since     sim.Time // when it went on
	on, spent bool
}

// newCharges lists the charges that any barometer feels.
func newCharges(s *sim.Setup) (list []charge) {
	felt := make([]bool, len(s.Vehicle.Stages))
	for _, b := range s.Bays {
		felt[b.Stage] = felt[b.Stage] || b.Sensors.Baro.Ejection.Time > 0
	}
	for _, b := range s.Bays {
		for _, w := range b.Wires {
			e := w.Effect
			if e.Kind == sim.Nothing || e.Kind == sim.Ignite || !felt[e.Stage] {
				continue
			}
			c := charge{effect: e}
			if e.Kind == sim.Deploy {
				c.pulse = s.Vehicle.Stages[e.Stage].Recovery[e.Device].Pulse
			}
			list = append(list, c)
		}
	}
	return list
}

// press takes an output's level to its charge.
func (w *World) press(e sim.Effect, on bool) {
	for i := range w.charges {
		c := &w.charges[i]
		if c.effect != e {
			continue
		}
		if on && !c.on {
			c.since = w.tick.Now
		}
		c.on = on
	}
}

// blast fires the charges whose output has been on for long enough.
func (w *World) blast() {
	for i := range w.charges {
		c := &w.charges[i]
		if !c.on || c.spent || w.tick.Now < c.since+c.pulse {
			continue
		}
		c.spent = true
		for j := range w.seats {
			if w.seats[j].bay.Stage == c.effect.Stage {
				w.seats[j].bank.Charge(c.since + c.pulse)
			}
		}
	}
}
