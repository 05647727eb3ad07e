package flight

import (
	"drystage/sim"
	"drystage/sim/r3"
)

// States gives the true state of each stage's body at the present. The slice is reused: it is valid
// until the next call of AdvanceTo or States.
func (f *Flight) States() []sim.State {
	f.updateStates()
	return f.states
}

// Into makes States fill in a slice of the caller's from now on, one state per stage, so that nobody has to copy it.
func (f *Flight) Into(states []sim.State) {
	f.before, f.states, f.statesCurrent = f.states, states, false
}

func (f *Flight) updateStates() {
	if f.statesCurrent {
		return
	}
	f.statesCurrent = true
	for i := range f.bodies {
		b := &f.bodies[i]
		first := &f.states[b.top]
		switch moving := f.fillMoving(b, first); {
		case moving:
			b.stateShown = false
		case b.stateShown && b.stateConstant():
			copy(f.states[b.top:b.low+1], f.before[b.top:b.low+1])
			if !b.shockShown {
				f.updateShock(b)
			}
			continue
		default:
			b.stateShown = true
			b.fillState(b.fraction(f.now), first)
		}
		first.Front = 0
		for k := b.top + 1; k <= b.low; k++ {
			f.states[k] = *first
			f.states[k].Front = f.states[k-1].Front + f.stages[k-1].spec.Length
		}
		if !b.shockShown {
			f.updateShock(b)
		}
	}
}

// stateConstant says that a body's state doesn't change until its next computeStep.
func (b *body) stateConstant() bool { return b.atRest() && len(b.burns) == 0 }

// fillState fills in all but Front, at a fraction of a body's step.
func (b *body) fillState(x float64, st *sim.State) {
	var y vector
	fl := &b.flow
	switch {
	case b.atRest():
		y = b.y
		b.restFlow(x, &y)
		st.Force, st.Angular = fl.force, r3.Vec{}
	case b.smoothAcceleration():
		b.interpolate(x, &y)
		y.normalise()
		b.stateFlow(x, &y)
		b.acceleration.at(x, st)
	default:
		b.interpolate(x, &y)
		y.normalise()
		st.Force, st.Angular = b.accelerationsAt(x, &y)
	}
	fl.fillState(&y, st)
	if len(b.pathTurns) > 0 && !b.atRest() {
		st.Rates, st.Angular = plus(st.Rates, fl.turnRate), plus(st.Angular, fl.turnAcceleration)
	}
	b.fillBody(st)
}

// fillBody fills in what doesn't depend on the motion.
func (b *body) fillBody(st *sim.State) {
	st.Mass, st.CG, st.Thrust = b.flow.mass, b.flow.cg, b.flow.thrust
	st.Landed, st.OnPad = b.down(), b.mode == onPad
}

// accelerationsAt gives the specific force and the angular acceleration by a whole right-hand side.
func (b *body) accelerationsAt(x float64, y *vector) (force, angular r3.Vec) {
	var k vector
	b.derivative(b.secondsAt(x), y, &k)
	return b.flow.force, k.vec(atRates)
}

// fillState fills in what follows from a body's motion and the air around it.
func (fl *flow) fillState(y *vector, st *sim.State) {
	st.Position, st.Velocity = y.vec(atPosition), y.vec(atVelocity)
	st.Attitude, st.Rates = y.attitude(), y.vec(atRates)
	st.Pressure, st.Ambient = cubic(&fl.cell.pressure, fl.cellFraction), cubic(&fl.cell.temperature, fl.cellFraction)
	st.Airspeed = fl.speed
	st.Mach = fl.mach
	st.Dynamic = float64(0.5 * fl.density * float64(fl.speed*fl.speed))
	st.Air = fl.air
}

// stateFlow computes what a derivative computes on its way to the accelerations.
func (b *body) stateFlow(x float64, y *vector) {
	if len(b.burns) > 0 {
		b.massProperties(b.secondsAt(x), &b.flow.massProperties)
	}
	y.rotate(&b.flow.rotation)
	b.airData(y, &b.flow)
	if b.thrustByPressure {
		b.addPressureGain(b.secondsAt(x), &b.flow)
	}
}

// atRest says that a body doesn't move.
func (b *body) atRest() bool { return b.mode == onPad || b.mode == landed }

// secondsAt gives the seconds from the start of the step to a fraction of it.
func (b *body) secondsAt(x float64) float64 {
	switch {
	case !b.atRest():
		return float64(b.span * x)
	case b.to != sim.Never:
		return float64(x * (b.to - b.from).Seconds())
	}
	return 0
}

// restFlow fills in the flow around a body at rest; its specific force is one g upwards.
func (b *body) restFlow(x float64, y *vector) {
	b.massProperties(b.secondsAt(x), &b.flow.massProperties)
	y.rotate(&b.flow.rotation)
	b.airData(y, &b.flow)
	if b.thrustByPressure {
		b.addPressureGain(b.secondsAt(x), &b.flow)
	}
	b.flow.force = b.flow.rotation.toBody(r3.Vec{Z: b.gravity.at(y[2])})
}
