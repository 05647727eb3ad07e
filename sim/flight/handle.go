package flight

import (
	"drystage/sim"
)

// handleCrossing carries out the zero crossing of a body that is due.
func (f *Flight) handleCrossing(b *body) {
	c := b.crossing
	b.crossing = zeroCrossing{at: sim.Never}
	switch c.kind {
	case liftoffCrossing:
		f.endStepNow(b)
		f.liftOff(b)
		f.computeStep(b)
	case foreGuideCrossing:
		f.endStepNow(b)
		b.onAftGuide = true
		f.computeStep(b)
	case railExitCrossing:
		f.endStepNow(b)
		b.mode, b.leftRail, b.onAftGuide = free, true, false
		if !f.hasEvent(sim.EventRailExit) {
			f.emit(sim.EventRailExit, f.now)
		}
		f.computeStep(b)
		if b.top == 0 && !f.record.exit.Left {
			f.recordRailExit(b)
		}
	case padCrossing:
		f.endStepNow(b)
		b.dropPulses(f.now, anyPulse)
		f.stopOnPad(b)
		f.computeStep(b)
	case dragSegmentCrossing:
		span := b.trySpan
		f.endStepNow(b)
		b.dragSegment, b.dragSegmentSet, b.trySpan = c.index, true, span
		f.computeStep(b)
	case apogeeCrossing:
		f.handleApogee(b)
		f.resumeSearch(b)
	case groundCrossing:
		f.handleLanding(b)
	case sideCrossing:
		f.endStepNow(b)
		f.lieDown(b)
		f.computeStep(b)
	case thresholdCrossing:
		w := &f.thresholds[c.index]
		w.done = true
		f.emitStage(w.spec.Stage, w.spec.Name)
		f.resumeSearch(b)
	}
}

// recordRailExit records the rocket's state when it leaves the rail and warns of what is out of limits.
func (f *Flight) recordRailExit(b *body) {
	f.record.recordRailExit(b, f.gravity.ground, f.now)
	e := &f.record.exit
	if e.Speed < exitSpeed {
		f.warnings.add(sim.SlowExit, 0, f.now, e.Speed, exitSpeed)
	}
	if e.Alpha > exitAlpha {
		f.warnings.add(sim.ExitAngle, 0, f.now, e.Alpha, exitAlpha)
	}
	if tilt := f.setup.Vehicle.Rail.Tilt; tilt > tiltLimit {
		f.warnings.add(sim.RailTilt, 0, f.now, tilt, tiltLimit)
	}
}

// resumeSearch searches the rest of a step after an event that didn't change the step.
func (f *Flight) resumeSearch(b *body) {
	b.searchedTo = f.now
	if b.mode == landed {
		f.findJumpAtRest(b)
		return
	}
	f.findCrossing(b)
}

// handleApogee emits the apogee of a body.
func (f *Flight) handleApogee(b *body) {
	f.recordTo(b, f.now)
	b.pastApogee = true
	b.fillState(b.fraction(f.now), &f.scratch)
	f.emitStage(b.top, f.stages[b.top].apogee)
	if b.top == 0 {
		f.emit(sim.EventApogee, f.now)
		f.record.fill(0, 0, &f.scratch)
		f.emitMaxQ()
	}
}

// handleLanding is the instant at which a body touches the ground.
func (f *Flight) handleLanding(b *body) {
	f.endStepNow(b)
	l := b.landing(f.now)
	f.record.landings = append(f.record.landings, l)
	if l.Speed > hardLanding {
		f.warnings.add(sim.HardLanding, b.top, f.now, l.Speed, hardLanding)
	}
	b.fillState(0, &f.scratch)
	if b.top == 0 {
		f.emitMaxQ()
	}
	for i := b.top; i <= b.low; i++ {
		f.emitStage(i, f.stages[i].landing)
	}
	f.record.fill(b.top, b.low, &f.scratch)
	f.swings[b.top].land(f, b)
	f.touchDown(b)
	f.computeStep(b)
}

// checkAllDown ends the flight when the last body is down: it has touched the ground, or is left behind on the pad.
func (f *Flight) checkAllDown() {
	if f.allDown {
		return
	}
	anyLanded := false
	for i := range f.bodies {
		b := &f.bodies[i]
		anyLanded = anyLanded || b.down()
		if b.mode == free || b.mode == onRail || len(b.burns) > 0 {
			return
		}
	}
	if anyLanded {
		f.allDown = true
		f.emit(sim.EventLanding, f.now)
		f.record.fillLast()
	}
}

// dynamicPressure gives the dynamic pressure at a share of the step, in Pa.
func (b *body) dynamicPressure(x float64) float64 {
	c, in := b.air.cell(b.interpolateOne(x, 2))
	return float64(0.5 * cubic(&c.density, in) * b.airspeed2(x))
}

// emitMaxQ emits the event of the greatest dynamic pressure, once, if the rocket has moved.
func (f *Flight) emitMaxQ() {
	r := &f.record
	if !r.maxQEmitted && f.liftedOff && r.q.value > 0 {
		r.maxQEmitted = true
		f.emit(sim.EventMaxQ, r.q.at)
		r.qState.normalise()
		fl := flow{rotation: r.qState.rotation()}
		f.airData(&r.qState, &fl)
		fl.fillState(&r.qState, &f.scratch)
		r.fill(0, 0, &f.scratch)
	}
}
