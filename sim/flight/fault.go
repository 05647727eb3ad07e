package flight

import "drystage/sim"

// fault is a vehicle fault of the Setup.
type fault struct {
	spec  *sim.Fault
	bit   int
	from  sim.Time // when known
	known bool
}

// hireFaults takes the vehicle faults out of the Setup.
func (f *Flight) hireFaults() {
	for i := range f.setup.Faults {
		s := &f.setup.Faults[i]
		if s.Kind.Layer() == sim.OnVehicle && s.Stage >= 0 && s.Stage < len(f.stages) && i < sim.MaxFaults {
			f.faults = append(f.faults, fault{spec: s, bit: i})
		}
	}
	f.wakeFaults()
}

// wakeFaults finds out when faults begin, as far as their events have happened. A fault before an
// event takes its time from the rehearsal.
func (f *Flight) wakeFaults() {
	for i := range f.faults {
		x := &f.faults[i]
		if x.known {
			continue
		}
		events := f.events
		if x.spec.From.Offset < 0 {
			events = f.setup.Rehearsed
		}
		if x.from, x.known = x.spec.From.In(events); !x.known {
			continue
		}
		if x.spec.Kind == sim.EarlyBurnout {
			f.enter(appointment{at: max(f.now, x.from), what: dying, stage: x.spec.Stage, device: i})
		}
	}
}

// active says if a fault spoils things at the present.
func (x *fault) active(now sim.Time) bool {
	return x.known && now >= x.from && (x.spec.Duration == 0 || now < x.from+x.spec.Duration)
}

// spoilIgniter says what faults do to the igniter of a motor of a stage that has just had its pulse.
func (f *Flight) spoilIgniter(stage, motor int) (late sim.Time, dead bool) {
	for i := range f.faults {
		x := &f.faults[i]
		if x.spec.Stage != stage || (x.spec.Motor != 0 && x.spec.Motor != motor+1) || !x.active(f.now) {
			continue
		}
		switch x.spec.Kind {
		case sim.DeadIgniter:
			dead = true
		case sim.LateIgniter:
			late += sim.Seconds(x.spec.Value)
		default:
			continue
		}
		f.faulted |= 1 << uint(x.bit)
	}
	return late, dead
}
