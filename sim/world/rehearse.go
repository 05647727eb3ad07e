package world

import (
	"slices"

	"drystage/sim"
	"drystage/sim/flight"
)

// Rehearse flies the setup without boards and without faults, every output at the time the builder
// means it to happen, until all has landed or Setup.Limit is over, and gives the events in order of
// time: what Setup.Rehearsed is for.
func Rehearse(s *sim.Setup) []sim.Event {
	const beat = 100 * sim.Millisecond
	plain := *s
	plain.Faults = nil
	f := flight.NewIdeal(&plain)
	for now := sim.Time(0); now < s.Limit && !f.Landed(); {
		now = min(now+beat, s.Limit)
		f.To(now)
	}
	return slices.Clone(f.Events())
}
