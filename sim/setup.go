package sim

import "slices"

// Setup is everything that determines a simulated flight, except the boards' outputs. Two equal Setups with equal
// outputs give equal Ticks.
type Setup struct {
	Seed      uint64
	Vehicle   Vehicle
	Wind      Wind
	Pad       Pad
	Bays      []Bay
	Launch    Time // the launch controller fires
	Commands  []Command
	Faults    []Fault // at most MaxFaults
	Crossings []Crossing
	Marks     []Mark
	// Rehearsed are the events of an ideal flight without boards. Faults and commands with a negative offset take
	// their time from here, since the future events of a flight aren't known. Without such it may be empty.
	Rehearsed []Event
	Until     Anchor // the run is complete at this instant
	Limit     Time   // it ends here if Until doesn't come before
}

// Fastest gives the rate in Hz of the part that is sampled most often on any board; 0 when none is fitted.
func (s *Setup) Fastest() float64 {
	rate := 0.0
	for i := range s.Bays {
		rate = max(rate, s.Bays[i].Sensors.Fastest())
	}
	return rate
}

// NeedsRehearsal says that something happens before an event whose time only a rehearsal can tell: a fault or a command
// with a negative offset.
func (s *Setup) NeedsRehearsal() bool {
	early := func(a Anchor) bool { return a.Offset < 0 }
	return slices.ContainsFunc(s.Faults, func(f Fault) bool { return early(f.From) }) ||
		slices.ContainsFunc(s.Commands, func(c Command) bool { return early(c.At) })
}

// MaxFaults is the most faults in one Setup: Tick.Active has a bit for each.
const MaxFaults = 64
