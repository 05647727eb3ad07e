package flight

import "drystage/sim"

// SetOutput sets the level of an output at the present time. An igniter or a device's charge fires once,
// when its output has been on for its Pulse. A separation charge fires at once; only a stage that separates by
// charge has one. In an ideal flight, and for effects that the vehicle doesn't have, SetOutput does nothing.
func (f *Flight) SetOutput(e sim.Effect, on bool) {
	if f.ideal || e.Stage < 0 || e.Stage >= len(f.stages) {
		return
	}
	st := &f.stages[e.Stage]
	switch e.Kind {
	case sim.Ignite:
		f.setTrigger(&st.igniter, on, action{at: f.now + st.spec.Mount.Igniter.Pulse, kind: doIgniterPulse, stage: e.Stage})
	case sim.Separate:
		if e.Stage > 0 && st.spec.Separation.Mode == sim.ByCharge {
			f.setTrigger(&st.charge, on, action{at: f.now, kind: doSeparationCharge, stage: e.Stage})
		}
	case sim.Deploy:
		if e.Device < 0 || e.Device >= len(st.devices) {
			return
		}
		d := &st.devices[e.Device]
		f.setTrigger(&d.trigger, on, action{at: f.now + d.spec.Pulse, kind: doDeploymentCharge, stage: e.Stage, device: e.Device})
	}
}

// setTrigger schedules the end of the pulse, or cancels it when the output goes off too soon.
func (f *Flight) setTrigger(t *trigger, on bool, a action) {
	started, stopped := t.set(on)
	switch {
	case started:
		f.schedule(a)
	case stopped:
		f.cancel(a.kind, a.stage, a.device)
	}
}

// fireIgniter is the end of an igniter's pulse: each motor that can still ignite does so after its delay.
func (f *Flight) fireIgniter(stage int) {
	st := &f.stages[stage]
	if st.igniter.spent {
		return
	}
	st.igniter.spent = true
	if !st.canIgnite() {
		return
	}
	for i := range st.motors {
		late, dead := f.igniterFaults(stage, i)
		if !dead {
			f.schedule(action{at: f.now + max(0, st.motors[i].delay+late), kind: doIgnite, stage: stage, device: i})
		}
	}
}

// allMotors as the device of an action is every motor of a mount.
const allMotors = -1

// ignite ignites one motor, or all motors of a stage, each once only. It says whether there was one. If a stage
// is still joined below, its separation is forced.
func (f *Flight) ignite(stage, which int) bool {
	st := &f.stages[stage]
	b := f.bodyOf(stage)
	found := false
	for i := range st.motors {
		m := &st.motors[i]
		if m.ignited || m.curve.empty() || (which != allMotors && which != i) {
			continue
		}
		if !found {
			f.endStepNow(b)
			found = true
		}
		if impulse, burn := f.motorFaults(stage, i); impulse != 1 || burn != 1 {
			m.curve.scale(impulse, burn)
		}
		m.ignited, m.burning, m.ignitedAt = true, true, f.now
		f.schedule(action{at: f.now + m.curve.burnout(), kind: doBurnout, stage: stage, device: i})
	}
	if !found {
		return false
	}
	if !st.ignited {
		st.ignited = true
		f.emitStage(stage, st.ignition)
	}
	f.computeStep(b)
	if b.low > stage {
		f.separate(stage + 1)
	}
	return true
}

// endBurn ends a burn: the thrust curve has ended, or a fault stops motors and the rest of their propellant
// stays unburnt. The stage's burnout is that of its last motor.
func (f *Flight) endBurn(a action) {
	st := &f.stages[a.stage]
	b := f.bodyOf(a.stage)
	found := false
	for i := range st.motors {
		m := &st.motors[i]
		if !m.burning || !f.endsBurn(&a, i) {
			continue
		}
		if !found {
			f.endStepNow(b)
			found = true
		}
		if a.kind == doMotorFailure {
			m.shutDown(f.now, st.spec.Mount.Motor.Propellant)
			f.faultActivity |= 1 << uint(f.faults[a.device].bit)
			f.cancel(doBurnout, a.stage, i)
			continue
		}
		m.burning, m.propellant = false, 0
	}
	if !found {
		return
	}
	over := !st.burning() && !f.isScheduled(doIgnite, a.stage)
	if over {
		f.emitStage(a.stage, st.burnout)
	}
	f.computeStep(b)
	if over && b.top < a.stage {
		f.afterBurnout(a.stage, a.kind == doMotorFailure)
	}
}

// endsBurn says that an action is the end of a motor's burn.
func (f *Flight) endsBurn(a *action, motor int) bool {
	if a.kind == doMotorFailure {
		which := f.faults[a.device].spec.Motor
		return which == 0 || which == motor+1
	}
	return a.device == motor
}

// afterBurnout schedules what follows a lower stage's burnout: separation, or ignition of the stage above.
func (f *Flight) afterBurnout(stage int, died bool) {
	sep := &f.stages[stage].spec.Separation
	switch {
	case sep.Mode == sim.ByDrag:
		f.schedule(action{at: f.now + sep.Delay, kind: doDragSeparation, stage: stage})
	case sep.Mode == sim.ByGap && !died:
		f.schedule(action{at: f.now + sep.Delay, kind: doIgnite, stage: stage - 1, device: allMotors})
	case sep.Mode == sim.ByCharge && f.ideal:
		f.fireSeparationCharge(stage)
	}
}

// fireSeparationCharge fires the separation charge: the stages separate after its delay.
func (f *Flight) fireSeparationCharge(stage int) {
	st := &f.stages[stage]
	if !st.charge.spent {
		st.charge.spent = true
		f.schedule(action{at: f.now + st.spec.Separation.Delay, kind: doSeparation, stage: stage})
	}
}

// fireDeploymentCharge is the end of the pulse of a device's charge.
func (f *Flight) fireDeploymentCharge(stage, device int) {
	d := &f.stages[stage].devices[device]
	if !d.trigger.spent {
		d.trigger.spent = true
		b := f.bodyOf(stage)
		f.endStepNow(b)
		f.fireDeviceShock(b, stage, d.spec)
		f.computeStep(b)
		f.schedule(action{at: f.now + d.spec.Delay, kind: doLineStretch, stage: stage, device: device})
	}
}

// lineStretch is the line stretch of a device, which begins to fill.
func (f *Flight) lineStretch(stage, device int) {
	st := &f.stages[stage]
	d := &st.devices[device]
	if d.lineStretchAt != sim.Never || f.deviceDead(stage, device) {
		return
	}
	b := f.bodyOf(stage)
	f.endStepNow(b)
	d.lineStretchAt = f.now
	f.openDevice(b, stage, device)
	f.emitStage(stage, st.opening[device])
	f.computeStep(b)
	if d.inflation > 0 {
		f.schedule(action{at: f.now + d.inflation, kind: doUpdateForces, stage: stage, device: device})
	}
}
