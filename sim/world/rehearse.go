package world

import (
	"slices"

	"drystage/sim"
	"drystage/sim/flight"
)

// Rehearse flies the setup without boards and faults, as an ideal flight, until all has landed or Setup.Limit is
// reached. It gives the events in order of time, for Setup.Rehearsed.
func Rehearse(s *sim.Setup) []sim.Event {
	const step = 100 * sim.Millisecond
	f := flight.NewIdeal(s)
	for now := sim.Time(0); now < s.Limit && !f.Landed(); {
		now = min(now+step, s.Limit)
		f.AdvanceTo(now)
	}
	return slices.Clone(f.Events())
}
