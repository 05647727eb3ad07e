// Package fault spoils what the sensors of a board say and cuts its supply, as the plan asks. A fault
// is data (sim.Fault); Text prints it as one line, and a Set carries the memory that some kinds need.
// Faults of one part apply in the order of the plan. Each touches its own target and, where it needs
// chance, draws from a stream of its own: adding a fault changes no other channel. A fault counts as
// having fired only where a sample or the supply is really another than without it.
//
// Faults of the vehicle live in the flight. A spoilt sample may lie outside the part's range, since
// whatever spoils it may sit behind the part. This package never touches the truth or a clock.
package fault

import (
	"strconv"

	"drystage/sim"
	"drystage/sim/noise"
)

// Set is the sensor and power faults of one setup, with their memory. It belongs to one flight.
type Set struct {
	items     []item
	last      []sim.Time // per bay: the last instant asked of Powered
	seen      int        // events known when the anchors were last looked up
	rehearsed []sim.Event
}

// item is one fault with its memory.
type item struct {
	sim.Fault
	bit    uint64
	has    sim.Parts // the part it spoils; 0: power
	start  sim.Time  // sim.Never until its event has happened
	end    sim.Time
	chance *noise.Stream // of noise bursts
	held   sim.Frame     // of stuck parts: the last good sample
	holds  bool
}

// New takes the sensor and power faults of s. Beyond sim.MaxFaults they act but can't be counted.
func New(s *sim.Setup) *Set {
	x := &Set{rehearsed: s.Rehearsed, last: make([]sim.Time, len(s.Bays)), seen: -1}
	for bay := range x.last {
		x.last[bay] = -1
	}
	for i, f := range s.Faults {
		if f.Kind.Layer() == sim.OnVehicle || f.Kind == sim.NoFault {
			continue
		}
		it := item{Fault: f, bit: 1 << i, start: sim.Never, end: sim.Never}
		if f.Kind != sim.PowerCut {
			it.has = parts(f.Part)
		}
		if f.Kind == sim.NoiseBurst {
			it.chance = noise.New(s.Seed, "fault."+Text(f, s)+"#"+strconv.Itoa(twins(s.Faults[:i], f)))
		}
		x.items = append(x.items, it)
	}
	return x
}

// twins counts the faults equal to f, whose bursts must not be equal too.
func twins(before []sim.Fault, f sim.Fault) (n int) {
	for _, g := range before {
		if g == f {
			n++
		}
	}
	return n
}

// parts gives the bit of a part; 0 for none.
func parts(p sim.Part) sim.Parts {
	if p == sim.NoPart || p > sim.PartBattery {
		return 0
	}
	return 1 << (p - 1)
}

// Sense spoils the fresh samples of a frame at f.Now. Events are all of the flight so far. It gives
// the bits of the faults that changed something.
func (x *Set) Sense(f *sim.Frame, events []sim.Event) (changed uint64) {
	x.anchor(events)
	for i := range x.items {
		it := &x.items[i]
		if it.Bay == f.Bay && it.has&f.Has != 0 && it.spoil(f) {
			changed |= it.bit
		}
	}
	return changed
}

// Powered says whether the supply of a bay is on at an instant. A cut shorter than the time since the
// call before counts too: the board was off in between. Cut has the bit of the fault that did it: of
// several, the one that began first.
func (x *Set) Powered(bay int, now sim.Time, events []sim.Event) (on bool, cut uint64) {
	x.anchor(events)
	if bay < 0 || bay >= len(x.last) {
		return true, 0
	}
	first := sim.Never
	for i := range x.items {
		it := &x.items[i]
		if it.Kind == sim.PowerCut && it.Bay == bay && it.cuts(x.last[bay], now) && it.start < first {
			first, cut = it.start, it.bit
		}
	}
	x.last[bay] = now
	return first == sim.Never, cut
}

// cuts says whether a cut lasts at now, or has come and gone since the instant before.
func (it *item) cuts(before, now sim.Time) bool {
	return it.start <= now && (now < it.end || it.start > before)
}

// anchor looks up the faults whose event has happened by now.
func (x *Set) anchor(events []sim.Event) {
	if len(events) == x.seen {
		return
	}
	x.seen = len(events)
	for i := range x.items {
		it := &x.items[i]
		if it.start != sim.Never {
			continue
		}
		from := events
		if it.From.Offset < 0 {
			from = x.rehearsed
		}
		if t, ok := it.From.In(from); ok {
			it.start = t
			if it.Duration > 0 {
				it.end = t + it.Duration
			}
		}
	}
}
