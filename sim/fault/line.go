package fault

import "drystage/sim"

// Line gives the state of the link to a bay's board at an instant, and the faults that changed it. Whoever sends
// the bytes applies it.
func (x *Set) Line(bay int, now sim.Time, events []sim.Event) (line sim.Line, changed uint64) {
	if !x.linkFaults {
		return line, 0
	}
	x.resolve(events)
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
		if it.random != nil {
			line.Random ^= uint64(it.random.Uniform() * (1 << 53))
		}
	}
	return line, changed
}
