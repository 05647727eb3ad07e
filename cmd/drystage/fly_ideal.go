package main

import (
	"drystage/sim"
	"drystage/sim/flight"
	"drystage/sim/world"
)

// idealFlight is a flight without boards in which everything happens at its intended time.
type idealFlight struct {
	set         *sim.Setup
	flight      *flight.Flight // the one under way
	events      []sim.Event    // of the whole flight
	end         sim.Time       // all is down, or the flight is followed no further
	sum         flight.Summary
	peaks       []peak // by stage
	neverLifted []bool // by stage: on the pad in the end
}

// peak is a greatest speed over the ground.
type peak struct {
	speed float64 // m/s
	at    sim.Time
}

// observer is called with the true states of all stages, which are valid during the call.
type observer func(now sim.Time, states []sim.State)

// newIdealFlight rehearses a setup twice: first for anchors before their event, then for the events.
func newIdealFlight(set *sim.Setup) *idealFlight {
	set.Rehearsed = nil
	set.Rehearsed = world.Rehearse(set)
	o := &idealFlight{set: set, events: world.Rehearse(set), peaks: make([]peak, len(set.Vehicle.Stages))}
	o.end = set.Limit
	if at, ok := o.at(sim.EventLanding); ok {
		o.end = min(at, o.end)
	} else if _, lifted := o.at(sim.EventLiftoff); !lifted {
		o.end = min(set.Launch+noLiftoffLimit, o.end)
	}
	return o
}

// noLiftoffLimit is how long a rocket without liftoff is simulated.
const noLiftoffLimit = 10 * sim.Second

// at gives the time of an event of the flight.
func (o *idealFlight) at(event string) (sim.Time, bool) {
	return sim.Anchor{Event: event}.In(o.events)
}

// observeEvery is the default time between two calls of an observer: short in comparison to the pull of the recovery lines.
const observeEvery = 2 * sim.Millisecond

// fly flies from the launch to the end. always is called each lookEvery; also, if there is one,
// at each multiple of every; both look at the end.
func (o *idealFlight) fly(always observer, every sim.Time, also observer) {
	f := flight.NewIdeal(o.set)
	o.flight = f
	a, b := o.set.Launch, o.set.Launch
	if also == nil {
		b = sim.Never
	}
	for {
		now := min(a, b, o.end)
		f.AdvanceTo(now)
		states := f.States()
		if now == a || now == o.end {
			a += observeEvery
			o.updatePeaks(now, states)
			always(now, states)
		}
		if also != nil && (now == b || now == o.end) {
			b += every
			also(now, states)
		}
		if now == o.end {
			break
		}
	}
	o.sum = f.Summary()
	for _, s := range f.States() {
		o.neverLifted = append(o.neverLifted, s.OnPad)
	}
}

// updatePeaks updates the greatest speed of each stage; for the stage with the nose the flight has the exact value.
func (o *idealFlight) updatePeaks(now sim.Time, states []sim.State) {
	for i := range states {
		if v := sim.Speed.Of(&states[i]); v > o.peaks[i].speed {
			o.peaks[i] = peak{v, now}
		}
	}
}
