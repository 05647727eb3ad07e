package flight

import "drystage/sim"

// fault is a vehicle fault of the Setup.
type fault struct {
	spec  *sim.Fault
	bit   int
	from  sim.Time // when known
	known bool
	count int // how often, of a fault that comes again
}

// addFaults takes the vehicle faults out of the Setup.
func (f *Flight) addFaults() {
	for i := range f.setup.Faults {
		s := &f.setup.Faults[i]
		if s.Kind.Layer() == sim.OnVehicle && s.Stage >= 0 && s.Stage < len(f.stages) && i < sim.MaxFaults {
			f.faults = append(f.faults, fault{spec: s, bit: i})
		}
	}
	f.scheduleFaults()
}

// scheduleFaults finds out when faults begin, as far as their events have happened. A fault before an
// event takes its time from the rehearsal.
func (f *Flight) scheduleFaults() {
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
		switch x.spec.Kind {
		case sim.EarlyBurnout:
			f.schedule(action{at: max(f.now, x.from), kind: doMotorFailure, stage: x.spec.Stage, device: i})
		case sim.SelfIgnition, sim.SeparationEarly, sim.DeviceEarly, sim.Chuff, sim.TipOff, sim.HighTilt, sim.NoseLost:
			f.schedule(action{at: max(f.now, x.from), kind: doFault, stage: x.spec.Stage, device: i})
		}
	}
}

// active says if a fault spoils things at the present.
func (x *fault) active(now sim.Time) bool {
	return x.known && now >= x.from && (x.spec.Duration == 0 || now < x.from+x.spec.Duration)
}

// igniterFaults says what faults do to the igniter of a motor of a stage that has just had its pulse.
func (f *Flight) igniterFaults(stage, motor int) (late sim.Time, dead bool) {
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
		f.faultActivity |= 1 << uint(x.bit)
	}
	return late, dead
}

// applyFault lets happen what a fault makes happen by itself, if there is still something to happen.
func (f *Flight) applyFault(i int) {
	x := &f.faults[i]
	stage, st := x.spec.Stage, &f.stages[x.spec.Stage]
	switch x.spec.Kind {
	case sim.SelfIgnition:
		which := allMotors
		if x.spec.Motor > 0 {
			which = x.spec.Motor - 1
		}
		if !f.ignite(stage, which) {
			return
		}
	case sim.SeparationEarly:
		if b := f.bodyOf(stage); b.mode != free || b.top == stage {
			return
		}
		f.separate(stage)
	case sim.DeviceEarly:
		if x.spec.Device >= len(st.devices) || st.devices[x.spec.Device].lineStretchAt != sim.Never {
			return
		}
		if f.lineStretch(stage, x.spec.Device); st.devices[x.spec.Device].lineStretchAt == sim.Never {
			return // another fault keeps it in its bag
		}
	case sim.Chuff:
		f.scheduleRepeat(i)
		if !f.chuff(x.spec) {
			return
		}
	case sim.TipOff:
		f.scheduleRepeat(i)
		if !f.addBodyRate(x.spec) {
			return
		}
	case sim.HighTilt:
		if !f.startPathTurn(x.spec) {
			return
		}
	case sim.NoseLost:
		if !f.loseNose(x.spec) {
			return
		}
	}
	f.faultActivity |= 1 << uint(x.bit)
}

// scheduleRepeat enters the next time of a fault that happens several times.
func (f *Flight) scheduleRepeat(i int) {
	x := &f.faults[i]
	if x.count++; x.count < x.spec.Times {
		f.schedule(action{at: max(f.now, x.from+sim.Time(x.count)*x.spec.Every), kind: doFault, stage: x.spec.Stage, device: i})
	}
}

// motorFaults says by what factors faults stretch the impulse and the burn of a motor that lights now.
func (f *Flight) motorFaults(stage, motor int) (impulse, burn float64) {
	impulse, burn = 1, 1
	for i := range f.faults {
		x := &f.faults[i]
		if x.spec.Stage != stage || (x.spec.Motor != 0 && x.spec.Motor != motor+1) || !x.active(f.now) || x.spec.Value == 0 {
			continue
		}
		switch x.spec.Kind {
		case sim.ImpulseError:
			impulse *= clamp(1+x.spec.Value, 0.5, 1.5)
		case sim.BurnTimeError:
			burn *= clamp(1+x.spec.Value, 0.5, 1.5)
		default:
			continue
		}
		f.faultActivity |= 1 << uint(x.bit)
	}
	return impulse, burn
}

// separationStuck says that a stage can't let go now. When the fault ends, it does.
func (f *Flight) separationStuck(a action) bool {
	for i := range f.faults {
		x := &f.faults[i]
		if x.spec.Kind != sim.SeparationStuck || x.spec.Stage != a.stage || !x.active(f.now) {
			continue
		}
		f.faultActivity |= 1 << uint(x.bit)
		if x.spec.Duration > 0 {
			a.at = x.from + x.spec.Duration
			f.schedule(a)
		}
		return true
	}
	return false
}

// deviceDead says that a device stays in its bag.
func (f *Flight) deviceDead(stage, device int) bool {
	for i := range f.faults {
		x := &f.faults[i]
		if x.spec.Kind == sim.DeviceDead && x.spec.Stage == stage && x.spec.Device == device && x.active(f.now) {
			f.faultActivity |= 1 << uint(x.bit)
			return true
		}
	}
	return false
}
