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

// fire is the end of an igniter's pulse: each motor lights after its delay, if it is there to light.
func (f *Flight) fire(stage int) {
	st := &f.stages[stage]
	if st.igniter.spent {
		return
	}
	st.igniter.spent = true
	if !st.lightable() {
		return
	}
	for i := range st.motors {
		late, dead := f.spoilIgniter(stage, i)
		if !dead {
			f.enter(appointment{at: f.now + max(0, st.motors[i].delay+late), what: lighting, stage: stage, device: i})
		}
	}
}

// allMotors as the device of an appointment is every motor of a mount.
const allMotors = -1

// light lights a motor, or all of a stage, each once only, and says whether one was there to light. Still
// attached to a stage below, it blows that stage off.
func (f *Flight) light(stage, which int) bool {
	st := &f.stages[stage]
	b := f.bodyOf(stage)
	some := false
	for i := range st.motors {
		m := &st.motors[i]
		if m.used || m.curve.empty() || (which != allMotors && which != i) {
			continue
		}
		if !some {
			f.cut(b)
			some = true
		}
		if impulse, burn := f.spoilMotor(stage, i); impulse != 1 || burn != 1 {
			m.curve.stretch(impulse, burn)
		}
		m.used, m.burning, m.lit = true, true, f.now
		f.enter(appointment{at: f.now + m.curve.burnout(), what: burningOut, stage: stage, device: i})
	}
	if !some {
		return false
	}
	if !st.begun {
		st.begun = true
		f.tell(stage, st.ignition)
	}
	f.plan(b)
	if b.low > stage {
		f.part(stage + 1)
	}
	return true
}

// burnOut ends a burn: the curve has ended, or a fault kills motors and the rest of their propellant
// stays. The stage's burnout is that of its last motor.
func (f *Flight) burnOut(a appointment) {
	st := &f.stages[a.stage]
	b := f.bodyOf(a.stage)
	some := false
	for i := range st.motors {
		m := &st.motors[i]
		if !m.burning || !f.ends(&a, i) {
			continue
		}
		if !some {
			f.cut(b)
			some = true
		}
		if a.what == dying {
			m.die(f.now, st.spec.Mount.Motor.Propellant)
			f.faulted |= 1 << uint(f.faults[a.device].bit)
			f.strike(burningOut, a.stage, i)
			continue
		}
		m.burning, m.propellant = false, 0
	}
	if !some {
		return
	}
	over := !st.burning() && !f.awaits(lighting, a.stage)
	if over {
		f.tell(a.stage, st.burnout)
	}
	f.plan(b)
	if over && b.top < a.stage {
		f.afterBurn(a.stage, a.what == dying)
	}
}

// ends says if an appointment is the end of a motor's burn.
func (f *Flight) ends(a *appointment, motor int) bool {
	if a.what == dying {
		which := f.faults[a.device].spec.Motor
		return which == 0 || which == motor+1
	}
	return a.device == motor
}

// afterBurn is what a lower stage's burnout does to the stage above.
func (f *Flight) afterBurn(stage int, died bool) {
	sep := &f.stages[stage].spec.Separation
	switch {
	case sep.Mode == sim.ByDrag:
		f.enter(appointment{at: f.now + sep.Delay, what: sliding, stage: stage})
	case sep.Mode == sim.ByGap && !died:
		f.enter(appointment{at: f.now + sep.Delay, what: lighting, stage: stage - 1, device: allMotors})
	case sep.Mode == sim.ByCharge && f.ideal:
		f.blow(stage)
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
	f.open(b, stage, device)
	f.tell(stage, st.opening[device])
	f.plan(b)
	for _, until := range [...]sim.Time{d.inflation, d.snatch.length} {
		if until > 0 {
			f.enter(appointment{at: f.now + until, what: filling, stage: stage, device: device})
		}
	}
}
