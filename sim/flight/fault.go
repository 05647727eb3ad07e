package flight

import "drystage/sim"

// fault is a vehicle fault of the Setup.
type fault struct {
	spec  *sim.Fault
	bit   int
	from  sim.Time // valid when known
	known bool
	count int // how often a repeated fault has happened
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

// scheduleFaults computes when faults begin whose events have happened. A fault that begins before an event
// takes its time from the rehearsal.
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

// active says that a fault has its effect now.
func (x *fault) active(now sim.Time) bool {
	return x.known && now >= x.from && (x.spec.Duration == 0 || now < x.from+x.spec.Duration)
}

// igniterFaults gives the effect of faults on a motor's igniter at the end of its pulse.
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

// applyFault runs a fault that is an event of its own, if it can still have an effect.
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
			return // another fault keeps it from opening
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

// scheduleRepeat schedules the next time of a repeated fault.
func (f *Flight) scheduleRepeat(i int) {
	x := &f.faults[i]
	if x.count++; x.count < x.spec.Times {
		f.schedule(action{at: max(f.now, x.from+sim.Time(x.count)*x.spec.Every), kind: doFault, stage: x.spec.Stage, device: i})
	}
}

// motorFaults gives the factors of faults on impulse and burn time of a motor that ignites now.
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

// separationStuck says that a fault keeps a stage from separating now. It separates when the fault ends.
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

// deviceDead says that a fault keeps a device from opening.
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
