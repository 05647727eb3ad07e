// Package fault injects the faults of a plan into the samples of a board's sensors, its supply, its clock and
// its link. A fault is data (sim.Fault); Text prints it as one line, and a Set keeps the memory that some kinds
// need. Faults of one part apply in the order of the plan. Each changes its own target only and has its own
// random stream, so adding a fault changes no other channel. A fault counts as active only where a sample or the
// supply really differs from what it is without it.
//
// Vehicle faults are in the package flight. A faulty sample may be outside the part's range, since the fault may
// be behind the sensor. This package never changes the true state and reads no clock.
package fault

import (
	"math"
	"strconv"

	"drystage/sim"
	"drystage/sim/noise"
)

// Set holds the sensor, supply, clock and link faults of one setup, with their memory. It belongs to one flight.
type Set struct {
	items        []item
	last         []sim.Time // per bay: the instant of the last call of Powered
	sensorFaults bool       // any fault of a sensor
	powerCuts    bool       // any power cut
	brownOuts    bool       // any brown-out
	clockErrors  bool       // any fault of a clock
	linkFaults   bool       // any fault of a link
	wireFaults   bool       // any fault of a wire
	eventsSeen   int        // events known when the anchors were last resolved
	rehearsed    []sim.Event
	injected     []sim.Injection
}

// item is one fault with its memory.
type item struct {
	sim.Fault
	number   int
	bit      uint64
	partBit  sim.Parts // the part it applies to; 0: none
	observes bool      // it needs samples from before it begins
	start    sim.Time  // sim.Never until its event has happened
	begin    sim.Time  // of its current or last time
	random   *noise.Stream
	held     reading // the last good sample
	hasHeld  bool
	count    int // samples since begin
	past     []reading
	stored   int // how many samples have been stored in past
	bay      bayAir
}

// New takes all but the vehicle faults of s. Faults beyond sim.MaxFaults act but have no bit.
func New(s *sim.Setup) *Set {
	x := &Set{rehearsed: s.Rehearsed, last: make([]sim.Time, len(s.Bays)), eventsSeen: -1}
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
			it.partBit, x.sensorFaults = partBit(f.Part), true
		}
		switch f.Kind {
		case sim.NoiseBurst, sim.Jittered, sim.BitsFlipped, sim.BytesLost, sim.FramesCut:
			it.random = noise.New(s.Seed, "fault."+Text(f, s)+"#"+strconv.Itoa(countEqual(s.Faults[:i], f)))
		case sim.PowerCut, sim.Restart:
			x.powerCuts = true
		case sim.BrownOut:
			x.brownOuts = true
		case sim.ClockError:
			x.clockErrors = true
		case sim.Stuck, sim.FixLost, sim.HeightLimit, sim.VentBlocked:
			it.observes = true
		}
		x.linkFaults = x.linkFaults || layer == sim.OnLink
		x.wireFaults = x.wireFaults || layer == sim.OnWire
		it.past = make([]reading, depth(&f, s))
		it.observes = it.observes || len(it.past) > 0
		x.items = append(x.items, it)
	}
	x.injected = make([]sim.Injection, 0, len(x.items))
	return x
}

// depth is how many past samples of its part a fault needs.
func depth(f *sim.Fault, s *sim.Setup) int {
	const most = 1 << 18
	switch f.Kind {
	case sim.Delayed, sim.Jittered:
		if f.Bay < 0 || f.Bay >= len(s.Bays) {
			return 3
		}
		if partBit(f.Part) == 0 || !(f.Value > 0) {
			return 3
		}
		return 3 + int(min(math.Ceil(1.1*f.Value*s.Bays[f.Bay].Sensors.Rate(f.Part)), most))
	case sim.Reordered:
		return 3
	}
	return 0
}

// countEqual counts the faults equal to f, so that each has a different random stream.
func countEqual(before []sim.Fault, f sim.Fault) (n int) {
	for _, g := range before {
		if g == f {
			n++
		}
	}
	return n
}

// partBit gives the bit of a part; 0 for none.
func partBit(p sim.Part) sim.Parts {
	if p == sim.NoPart || p > sim.LastPart {
		return 0
	}
	return 1 << (p - 1)
}

// Empty says that there is no fault of sensors, supply, clock or line: nothing needs to be asked.
func (x *Set) Empty() bool { return len(x.items) == 0 }

// Apply injects the faults into the fresh samples of a frame at f.Now, given the true state of the bay's stage.
// Events are all of the flight so far. It gives the bits of the faults that changed a sample, and what they
// changed; the slice is valid until the next call.
func (x *Set) Apply(f *sim.Frame, st *sim.State, events []sim.Event) (changed uint64, injected []sim.Injection) {
	f.Twice = 0
	if !x.sensorFaults {
		return 0, nil
	}
	x.resolve(events)
	x.injected = x.injected[:0]
	for i := range x.items {
		it := &x.items[i]
		if it.Bay != f.Bay || it.partBit&f.Has == 0 || !it.observes && !it.active(f.Now) {
			continue
		}
		was := f.Sample(it.Part)
		if !it.apply(f, st) {
			continue
		}
		changed |= it.bit
		x.injected = append(x.injected, sim.Injection{At: f.Now, Fault: it.number, Bay: f.Bay, Part: it.Part, Dropped: it.partBit&f.Has == 0, Was: was, Is: f.Sample(it.Part)})
	}
	return changed, x.injected
}

// active says whether the fault lasts at an instant, and sets begin for repeated faults.
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

// resolve sets the start of the faults whose event has happened by now.
func (x *Set) resolve(events []sim.Event) {
	if len(events) == x.eventsSeen {
		return
	}
	x.eventsSeen = len(events)
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
