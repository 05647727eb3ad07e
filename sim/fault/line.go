package fault

import "drystage/sim"

// Line gives what is wrong with the line to a bay's board at an instant, and the faults that did it. The
// bytes are spoilt by whoever sends them.
func (x *Set) Line(bay int, now sim.Time, events []sim.Event) (line sim.Line, changed uint64) {
	if !x.lines {
		return line, 0
	}
	x.anchor(events)
	for i := range x.items {
		it := &x.items[i]
		if it.Kind.Layer() != sim.OnLink || it.Bay != bay || !it.active(now) {
			continue
		}
		changed |= it.bit
		share := float32(min(max(it.Value, 0), 1))
		switch it.Kind {
		case sim.BitsFlipped:
			line.Flip = max(line.Flip, share)
		case sim.BytesLost:
			line.Lose = max(line.Lose, share)
		case sim.FramesCut:
			line.Cut = max(line.Cut, share)
		case sim.LinkStalled:
			line.Stall = true
		}
		if it.chance != nil {
			line.Chance ^= uint64(it.chance.Uniform() * (1 << 53))
		}
	}
	return line, changed
}
