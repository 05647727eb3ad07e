package fault

import "drystage/sim"

// Powered says whether the supply of a bay is on at an instant. A cut that began and ended since the last call
// counts too: the board was off in between. cut has the bit of the fault; of several, the one that began first.
func (x *Set) Powered(bay int, now sim.Time, events []sim.Event) (on bool, cut uint64) {
	if !x.powerCuts || bay < 0 || bay >= len(x.last) {
		return true, 0
	}
	x.resolve(events)
	first := sim.Never
	for i := range x.items {
		it := &x.items[i]
		if it.Bay == bay && it.cutsPower(x.last[bay], now) && it.begin < first {
			first, cut = it.begin, it.bit
		}
	}
	x.last[bay] = now
	return first == sim.Never, cut
}

// cutsPower says whether a cut lasts at now, or has begun and ended since the instant before.
func (it *item) cutsPower(before, now sim.Time) bool {
	switch it.Kind {
	case sim.PowerCut:
		return it.active(now) || now >= it.start && it.begin > before
	case sim.Restart:
		it.active(now)
		return now >= it.start && it.begin > before
	}
	return false
}

// VoltageDrop gives the voltage drop of a bay's supply at an instant in V, and the faults that cause it.
func (x *Set) VoltageDrop(bay int, now sim.Time, events []sim.Event) (volts float64, changed uint64) {
	if !x.brownOuts {
		return 0, 0
	}
	x.resolve(events)
	for i := range x.items {
		it := &x.items[i]
		if it.Kind == sim.BrownOut && it.Bay == bay && it.active(now) && it.Value != 0 {
			volts += it.Value
			changed |= it.bit
		}
	}
	return volts, changed
}

// ClockOffset gives how far the clock of a bay's board is ahead of the true time at an instant, and the faults that
// cause it. The clock runs at a wrong rate while a fault lasts, and keeps its offset afterwards.
func (x *Set) ClockOffset(bay int, now sim.Time, events []sim.Event) (ahead sim.Time, changed uint64) {
	if !x.clockErrors {
		return 0, 0
	}
	x.resolve(events)
	for i := range x.items {
		it := &x.items[i]
		if it.Kind != sim.ClockError || it.Bay != bay || now < it.start {
			continue
		}
		long := now - it.start
		if it.Duration > 0 {
			long = min(long, it.Duration)
		}
		if by := sim.Seconds(float64(long.Seconds() * min(max(it.Value, -0.5), 0.5))); by != 0 {
			ahead += by
			changed |= it.bit
		}
	}
	return ahead, changed
}
