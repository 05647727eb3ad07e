package verdict

import (
	"drystage/harness"
	"drystage/sim"
)

// danger tells what may come of an expectation that fails.
func danger(e *harness.Expectation, s *sim.Setup) harness.Danger {
	switch e.Kind {
	case harness.Reports, harness.Alive:
		return harness.OfData
	case harness.AtEvent, harness.Happens, harness.Pulse:
		return harness.OfFlight
	case harness.Never, harness.Once, harness.AtFiring:
		if lights(e.Output, s) {
			return harness.OfFiringMotor
		}
		return harness.OfFiring
	}
	return harness.OfNoFire
}

// lights says that an output lights a motor.
func lights(c harness.Channel, s *sim.Setup) bool {
	if c.Bay < 0 || c.Bay >= len(s.Bays) {
		return false // a malformed record
	}
	for _, w := range s.Bays[c.Bay].Wires {
		if w.Channel == c.Channel {
			return w.Effect.Kind == sim.Ignite
		}
	}
	return false
}
