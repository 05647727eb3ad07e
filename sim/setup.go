package sim

// Setup is all that decides a simulated flight, but for what the boards do. Two equal Setups with
// equal outputs give equal Ticks.
type Setup struct {
	Seed      uint64
	Vehicle   Vehicle
	Wind      Wind
	Bays      []Bay
	Launch    Time // the launch controller fires
	Commands  []Command
	Faults    []Fault // at most MaxFaults
	Crossings []Crossing
	Marks     []Mark
	// Rehearsed are the events of a flight without boards in which everything happened when the
	// builder meant it to. Faults with a negative offset take their time from here, since a flight
	// can't know what is still to come.
	Rehearsed []Event
	Until     Anchor // the run is whole when it gets there
	Limit     Time   // and cut short when it does not get there by now
}

// Fastest gives the rate in Hz of the part that is sampled most often on any board; 0 when none is fitted.
func (s *Setup) Fastest() float64 {
	rate := 0.0
	for i := range s.Bays {
		rate = max(rate, s.Bays[i].Sensors.Fastest())
	}
	return rate
}

// MaxFaults is the most faults in one Setup: Tick.Active has a bit for each.
const MaxFaults = 64
