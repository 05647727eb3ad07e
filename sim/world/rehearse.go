package world

import (
	"slices"

	"drystage/sim"
	"drystage/sim/flight"
)

// Rehearse flies the setup without boards and, as ideal flights are, without faults, every output at
// the time the builder means it to happen, until all has landed or Setup.Limit is over. It gives the
// events in order of time: what Setup.Rehearsed is for.
func Rehearse(s *sim.Setup) []sim.Event {
	const beat = 100 * sim.Millisecond
	f := flight.NewIdeal(s)
	for now := sim.Time(0); now < s.Limit && !f.Landed(); {
		now = min(now+beat, s.Limit)
		f.AdvanceTo(now)
	}
	return slices.Clone(f.Events())
}
