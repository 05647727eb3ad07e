// Package fault spoils what the sensors of a board say, its supply and its clock, as the plan asks. A fault
// is data (sim.Fault); Text prints it as one line, and a Set carries the memory that some kinds need.
// Faults of one part apply in the order of the plan. Each touches its own target and, where it needs
// chance, draws from a stream of its own: adding a fault changes no other channel. A fault counts as
// having fired only where a sample or the supply is really another than without it.
//
// Faults of the vehicle live in the flight. A spoilt sample may lie outside the part's range, since
// whatever spoils it may sit behind the part. This package never touches the truth or a clock.
package fault

import (
	"math"
	"strconv"

	"drystage/sim"
	"drystage/sim/noise"
)

// Set is the sensor and power faults of one setup, with their memory. It belongs to one flight.
type Set struct {
	items     []item
	last      []sim.Time // per bay: the last instant asked of Powered
	sensors   bool       // any sensor is spoilt
	cuts      bool       // any supply is cut
	sags      bool       // any supply sags
	clocks    bool       // any clock is wrong
	lines     bool       // any line is bad
	seen      int        // events known when the anchors were last looked up
	rehearsed []sim.Event
	injected  []sim.Injection
}

// item is one fault with its memory.
type item struct {
	sim.Fault
	number int
	bit    uint64
	has    sim.Parts // the part it spoils; 0: power
	looks  bool      // it looks at samples while it does not last, too
	start  sim.Time  // sim.Never until its event has happened
	begin  sim.Time  // of the present or last of its times
	chance *noise.Stream
	held   reading // the last good sample
	holds  bool
	count  int // samples since begin
	past   []reading
	kept   int // samples ever kept in past
	bay    trapped
}

// New takes the sensor and power faults of s. Beyond sim.MaxFaults they act but can't be counted.
func New(s *sim.Setup) *Set {
	x := &Set{rehearsed: s.Rehearsed, last: make([]sim.Time, len(s.Bays)), seen: -1}
	for bay := range x.last {
		x.last[bay] = -1
	}
	for i, f := range s.Faults {
		layer := f.Kind.Layer()
		if layer == sim.OnVehicle || f.Kind == sim.NoFault {
			continue
		}
		it := item{Fault: f, number: i, bit: 1 << i, start: sim.Never, begin: sim.Never}
		if layer == sim.OnSensor {
			it.has, x.sensors = parts(f.Part), true
		}
		switch f.Kind {
		case sim.NoiseBurst, sim.Jittered, sim.BitsFlipped, sim.BytesLost, sim.FramesCut:
			it.chance = noise.New(s.Seed, "fault."+Text(f, s)+"#"+strconv.Itoa(twins(s.Faults[:i], f)))
		case sim.PowerCut, sim.Restart:
			x.cuts = true
		case sim.BrownOut:
			x.sags = true
		case sim.ClockError:
			x.clocks = true
		case sim.Stuck, sim.FixLost, sim.HeightLimit, sim.VentBlocked:
			it.looks = true
		}
		x.lines = x.lines || layer == sim.OnLink
		it.past = make([]reading, depth(&f, s))
		it.looks = it.looks || len(it.past) > 0
		x.items = append(x.items, it)
	}
	x.injected = make([]sim.Injection, 0, len(x.items))
	return x
}

// depth is how many samples of its part a fault looks back.
func depth(f *sim.Fault, s *sim.Setup) int {
	const most = 1 << 18
	switch f.Kind {
	case sim.Delayed, sim.Jittered:
		if f.Bay < 0 || f.Bay >= len(s.Bays) {
			return 3
		}
		if parts(f.Part) == 0 || !(f.Value > 0) {
			return 3
		}
		return 3 + int(min(math.Ceil(1.1*f.Value*s.Bays[f.Bay].Sensors.Rate(f.Part)), most))
	case sim.Reordered:
		return 3
	}
	return 0
}

// twins counts the faults equal to f, whose chance must not be equal too.
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

// Sense spoils the fresh samples of a frame at f.Now, given the true state of the bay's stage. Events are
// all of the flight so far. It gives the bits of the faults that changed something, and what they did;
// the slice is valid until the next call.
func (x *Set) Sense(f *sim.Frame, st *sim.State, events []sim.Event) (changed uint64, did []sim.Injection) {
	f.Twice = 0
	if !x.sensors {
		return 0, nil
	}
	x.anchor(events)
	x.injected = x.injected[:0]
	for i := range x.items {
		it := &x.items[i]
		if it.Bay != f.Bay || it.has&f.Has == 0 || !it.looks && !it.active(f.Now) {
			continue
		}
		was := f.Sample(it.Part)
		if !it.spoil(f, st) {
			continue
		}
		changed |= it.bit
		x.injected = append(x.injected, sim.Injection{At: f.Now, Fault: it.number, Bay: f.Bay, Part: it.Part, Dropped: it.has&f.Has == 0, Was: was, Is: f.Sample(it.Part)})
	}
	return changed, x.injected
}

// active says whether the fault lasts at an instant, and keeps the beginning of that time of it.
func (it *item) active(now sim.Time) bool {
	if now < it.start {
		return false
	}
	begin := it.start
	if it.Every > 0 && it.Times > 1 {
		begin += min((now-it.start)/it.Every, sim.Time(it.Times-1)) * it.Every
	}
	if begin != it.begin {
		it.begin, it.count = begin, 0
	}
	return it.Duration <= 0 || now-begin < it.Duration
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
		}
	}
}
