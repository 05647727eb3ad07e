package flight

import "drystage/sim"

// Drive sets the level of an output at the present time. An igniter or a device's charge fires once,
// when its output has been on for its Pulse; a separation charge fires at once, and only a stage that
// parts by charge has one. In an ideal flight, and for effects that the vehicle doesn't have, Drive
// does nothing.
func (f *Flight) Drive(e sim.Effect, on bool) {
	if f.ideal || e.Stage < 0 || e.Stage >= len(f.stages) {
		return
	}
	st := &f.stages[e.Stage]
	switch e.Kind {
	case sim.Ignite:
		f.press(&st.igniter, on, appointment{at: f.now + st.spec.Mount.Igniter.Pulse, what: fired, stage: e.Stage})
	case sim.Separate:
		if e.Stage > 0 && st.spec.Separation.Mode == sim.ByCharge {
			f.press(&st.charge, on, appointment{at: f.now, what: charging, stage: e.Stage})
		}
	case sim.Deploy:
		if e.Device < 0 || e.Device >= len(st.devices) {
			return
		}
		d := &st.devices[e.Device]
		f.press(&d.trigger, on, appointment{at: f.now + d.spec.Pulse, what: bursting, stage: e.Stage, device: e.Device})
	}
}

// press enters the end of the pulse in the diary, or strikes it when the output goes off too soon.
func (f *Flight) press(t *trigger, on bool, a appointment) {
	pressed, released := t.change(on)
	switch {
	case pressed:
		f.enter(a)
	case released:
		f.strike(a.what, a.stage, a.device)
	}
}

// fire is the end of an igniter's pulse: the motor lights after its delay, if it is there to light.
func (f *Flight) fire(stage int) {
	st := &f.stages[stage]
	if st.igniter.spent {
		return
	}
	st.igniter.spent = true
	if st.curve.empty() || st.used {
		return
	}
	late, dead := f.spoilIgniter(stage)
	if !dead {
		f.enter(appointment{at: f.now + max(0, st.delay+late), what: lighting, stage: stage})
	}
}

// light lights a motor, once only. Still attached to a stage below, it blows that stage off.
func (f *Flight) light(stage int) {
	st := &f.stages[stage]
	if st.used || st.curve.empty() {
		return
	}
	st.used = true
	b := f.bodyOf(stage)
	f.cut(b)
	st.burning, st.lit = true, f.now
	f.enter(appointment{at: f.now + st.curve.burnout(), what: burningOut, stage: stage})
	f.emit(st.ignition, f.now)
	f.plan(b)
	if b.low > stage {
		f.part(stage + 1)
	}
}

// burnOut ends a burn: the curve has ended, or a fault kills the motor and the rest of its propellant
// stays.
func (f *Flight) burnOut(a appointment) {
	st := &f.stages[a.stage]
	if !st.burning {
		return
	}
	b := f.bodyOf(a.stage)
	f.cut(b)
	st.burning, st.propellant = false, 0
	if a.what == dying {
		since := f.now - st.lit
		_, _, burnt := st.curve.line(st.curve.segment(since), since)
		st.propellant = max(0, st.spec.Mount.Motor.Propellant-burnt)
		f.faulted |= 1 << uint(f.faults[a.device].bit)
		f.strike(burningOut, a.stage, 0)
	}
	f.emit(st.burnout, f.now)
	f.plan(b)
	if b.top < a.stage && st.spec.Separation.Mode == sim.ByDrag {
		f.enter(appointment{at: f.now + st.spec.Separation.Delay, what: sliding, stage: a.stage})
	}
	if f.ideal && b.top < a.stage && st.spec.Separation.Mode == sim.ByCharge {
		f.blow(a.stage)
	}
}

// blow is the separation charge: the stages part after its delay.
func (f *Flight) blow(stage int) {
	st := &f.stages[stage]
	if !st.charge.spent {
		st.charge.spent = true
		f.enter(appointment{at: f.now + st.spec.Separation.Delay, what: parting, stage: stage})
	}
}

// burst is the end of the pulse of a device's charge.
func (f *Flight) burst(stage, device int) {
	d := &f.stages[stage].devices[device]
	if !d.trigger.spent {
		d.trigger.spent = true
		f.enter(appointment{at: f.now + d.spec.Delay, what: stretching, stage: stage, device: device})
	}
}

// stretch is line stretch: the device begins to fill.
func (f *Flight) stretch(stage, device int) {
	st := &f.stages[stage]
	d := &st.devices[device]
	if d.opened != sim.Never || f.deviceDead(stage, device) {
		return
	}
	b := f.bodyOf(stage)
	f.cut(b)
	d.opened = f.now
	f.emit(st.opening[device], f.now)
	f.plan(b)
	if d.spec.Inflation > 0 {
		f.enter(appointment{at: f.now + d.spec.Inflation, what: filling, stage: stage, device: device})
	}
}
