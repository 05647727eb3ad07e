package fault

import "drystage/sim"

// Powered says whether the supply of a bay is on at an instant. A cut shorter than the time since the
// call before counts too: the board was off in between. Cut has the bit of the fault that did it: of
// several, the one that began first.
func (x *Set) Powered(bay int, now sim.Time, events []sim.Event) (on bool, cut uint64) {
	if !x.cuts || bay < 0 || bay >= len(x.last) {
		return true, 0
	}
	x.anchor(events)
	first := sim.Never
	for i := range x.items {
		it := &x.items[i]
		if it.Bay == bay && it.cuts(x.last[bay], now) && it.begin < first {
			first, cut = it.begin, it.bit
		}
	}
	x.last[bay] = now
	return first == sim.Never, cut
}

// cuts says whether a cut lasts at now, or has come and gone since the instant before.
func (it *item) cuts(before, now sim.Time) bool {
	switch it.Kind {
	case sim.PowerCut:
		return it.active(now) || now >= it.start && it.begin > before
	case sim.Restart:
		it.active(now)
		return now >= it.start && it.begin > before
	}
	return false
}

// Sag gives how many volts the supply of a bay has lost at an instant, and the faults that took them.
func (x *Set) Sag(bay int, now sim.Time, events []sim.Event) (volts float64, changed uint64) {
	if !x.sags {
		return 0, 0
	}
	x.anchor(events)
	for i := range x.items {
		it := &x.items[i]
		if it.Kind == sim.BrownOut && it.Bay == bay && it.active(now) && it.Value != 0 {
			volts += it.Value
			changed |= it.bit
		}
	}
	return volts, changed
}

// Clock gives what the clock of a bay's board is ahead of the truth at an instant, and the faults that
// put it there. It runs wrong while a fault lasts, and stays where it got to.
func (x *Set) Clock(bay int, now sim.Time, events []sim.Event) (ahead sim.Time, changed uint64) {
	if !x.clocks {
		return 0, 0
	}
	x.anchor(events)
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
