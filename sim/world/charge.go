package world

import "drystage/sim"

// charge is a pyrotechnic charge whose pressure pulse the barometers of its own stage measure.
type charge struct {
	effect    sim.Effect
	pulse     sim.Time // for which its output must be on
	since     sim.Time // when it went on
	on, spent bool
}

// newCharges lists the charges whose pulse any barometer measures.
func newCharges(s *sim.Setup) (list []charge) {
	measured := make([]bool, len(s.Vehicle.Stages))
	for _, b := range s.Bays {
		measured[b.Stage] = measured[b.Stage] || b.Sensors.Baro.Ejection.Leak > 0
	}
	for _, b := range s.Bays {
		for _, w := range b.Wires {
			e := w.Effect
			if e.Kind == sim.Nothing || e.Kind == sim.Ignite || !measured[e.Stage] {
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

// setCharge sets the level of an output on its charge.
func (w *World) setCharge(e sim.Effect, on bool) {
	for i := range w.charges {
		c := &w.charges[i]
		if c.effect != e {
			continue
		}
		if on && !c.on {
			c.since = w.tick.Now
		}
		c.on = on
		w.charged = w.charged || on
	}
}

// fireCharges fires the charges whose output has been on for long enough.
func (w *World) fireCharges() {
	if !w.charged {
		return
	}
	for i := range w.charges {
		c := &w.charges[i]
		if !c.on || c.spent || w.tick.Now < c.since+c.pulse {
			continue
		}
		c.spent = true
		for j := range w.bays {
			if w.bays[j].spec.Stage == c.effect.Stage {
				w.bays[j].bank.ChargeFired(c.since + c.pulse)
			}
		}
	}
}
