package main

import (
	"drystage/harness/run"
	"drystage/sim"
	"drystage/sim/flight"
)

// outing is a flight without boards, in which everything happens when the builder means it to.
type outing struct {
	set    *sim.Setup
	flight *flight.Flight // the one under way
	events []sim.Event    // of the whole flight
	end    sim.Time       // all is down, or the flight is followed no further
	sum    flight.Summary
	tops   []peak // by stage
	stays  []bool // by stage: on the pad in the end
}

// peak is a greatest speed over the ground.
type peak struct {
	speed float64 // m/s
	at    sim.Time
}

// look is somebody who looks at the true states of all stages; they are valid during the call.
type look func(now sim.Time, states []sim.State)

// newOuting rehearses a setup twice: once for what anchors before their event need, once for the events.
func newOuting(set *sim.Setup) *outing {
	set.Rehearsed = nil
	run.Rehearse(set)
	flown := *set
	run.Rehearse(&flown)
	o := &outing{set: set, events: flown.Rehearsed, tops: make([]peak, len(set.Vehicle.Stages))}
	o.end = set.Limit
	if at, ok := o.at(sim.EventLanding); ok {
		o.end = min(at, o.end)
	} else if _, lifted := o.at(sim.EventLiftoff); !lifted {
		o.end = min(set.Launch+stuckFor, o.end)
	}
	return o
}

// stuckFor is how long a rocket is watched that never lifts off.
const stuckFor = 10 * sim.Second

// at gives the time of an event of the flight.
func (o *outing) at(event string) (sim.Time, bool) {
	return sim.Anchor{Event: event}.In(o.events)
}

// lookEvery is the time between two looks of those who don't say otherwise: short beside a pull of lines.
const lookEvery = 2 * sim.Millisecond

// fly flies from the launch to the end. always looks at each lookEvery; also, if there is one,
// at each multiple of every; both look at the end.
func (o *outing) fly(always look, every sim.Time, also look) {
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
			a += lookEvery
			o.top(now, states)
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
		o.stays = append(o.stays, s.OnPad)
	}
}

// top notes how fast each stage is; the flight itself knows it exactly for the one with the nose.
func (o *outing) top(now sim.Time, states []sim.State) {
	for i := range states {
		if v := sim.Speed.Of(&states[i]); v > o.tops[i].speed {
			o.tops[i] = peak{v, now}
		}
	}
}
