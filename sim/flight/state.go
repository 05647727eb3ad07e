package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"

	"gonum.org/v1/gonum/spatial/r3"
)

// States gives the true state of each stage's body at the present. The slice is reused: it is valid
// until the next call of To or States.
func (f *Flight) States() []sim.State {
	f.freshen()
	return f.states
}

func (f *Flight) freshen() {
	if f.fresh {
		return
	}
	f.fresh = true
	for i := range f.bodies {
		b := &f.bodies[i]
		if b.shown && b.inert() {
			continue
		}
		b.shown = true
		first := &f.states[b.top]
		b.fillShare(b.share(f.now), first)
		first.Front = 0
		for k := b.top + 1; k <= b.low; k++ {
			f.states[k] = *first
			f.states[k].Front = f.states[k-1].Front + f.stages[k-1].spec.Length
		}
	}
}

// inert says that a body's state stays as it is until its next plan.
func (b *body) inert() bool { return b.resting() && len(b.burns) == 0 }

// fillShare fills in all but Front, at a share of a body's step.
func (b *body) fillShare(x float64, st *sim.State) {
	var y, k vector
	fl := &b.flow
	if b.resting() {
		y = b.y
		b.rested(x, &y)
	} else {
		b.mix(x, &y)
		y.normalise()
		b.slope(b.elapsed(x), &y, &k)
	}
	fl.fill(&y, st)
	st.Force, st.Angular = fl.force, k.vec(atRates)
	if len(b.veers) > 0 && !b.resting() {
		st.Rates, st.Angular = plus(st.Rates, fl.strayed), plus(st.Angular, fl.straying)
	}
	st.Mass, st.CG, st.Thrust = fl.mass, fl.cg, fl.thrust
	st.Landed, st.OnPad = b.mode == landed, b.mode == onPad
}

// fill fills in what a body's motion and the air around it say.
func (fl *flow) fill(y *vector, st *sim.State) {
	st.Position, st.Velocity = y.vec(atPosition), y.vec(atVelocity)
	st.Attitude, st.Rates = y.attitude(), y.vec(atRates)
	st.Pressure, st.Ambient = cubic(&fl.cell.pressure, fl.in), cubic(&fl.cell.temperature, fl.in)
	st.Airspeed = fl.speed
	st.Mach = fl.mach
	st.Dynamic = float64(0.5 * fl.density * float64(fl.speed*fl.speed))
	st.Alpha = plain.Atan2(math.Sqrt(float64(fl.air.Y*fl.air.Y)+float64(fl.air.Z*fl.air.Z)), fl.air.X)
	turn := &fl.turn
	st.Tilt = plain.Atan2(math.Sqrt(float64(turn.xx*turn.xx)+float64(turn.yx*turn.yx)), turn.zx)
}

// resting says that a body doesn't move.
func (b *body) resting() bool { return b.mode == onPad || b.mode == landed }

// elapsed gives the seconds from the start of the step to a share of it.
func (b *body) elapsed(x float64) float64 {
	switch {
	case !b.resting():
		return float64(b.span * x)
	case b.to != sim.Never:
		return float64(x * (b.to - b.from).Seconds())
	}
	return 0
}

// rested fills in the flow around a body at rest: what holds it gives it one g.
func (b *body) rested(x float64, y *vector) {
	b.weigh(b.elapsed(x), &b.flow.properties)
	y.rotate(&b.flow.turn)
	b.breathe(y, &b.flow)
	b.flow.force = b.flow.turn.body(r3.Vec{Z: b.gravity.at(y[2])})
}
