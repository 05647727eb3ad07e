package fault

import "drystage/sim"

// Wires gives which outputs of a bay are open or shorted at an instant, and the faults that do it. A wire is felt by
// the output and by the board's continuity check, so a fault counts as active while it lasts.
func (x *Set) Wires(bay int, now sim.Time, events []sim.Event) (c sim.Circuits, changed uint64) {
	if !x.wireFaults {
		return c, 0
	}
	x.resolve(events)
	for i := range x.items {
		it := &x.items[i]
		if it.Kind.Layer() != sim.OnWire || it.Bay != bay || it.Channel < 1 || it.Channel > 16 || !it.active(now) {
			continue
		}
		changed |= it.bit
		if bit := uint16(1) << (it.Channel - 1); it.Kind == sim.WireLost {
			c.Open |= bit
		} else {
			c.Short |= bit
		}
	}
	c.Short &^= c.Open
	return c, changed
}
