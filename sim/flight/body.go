package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"
)

// mode is how a body moves.
type mode uint8

const (
	onPad  mode = iota // held, at rest
	onRail             // along the rail only
	free
	onGround // it touches the ground and still moves
	landed   // at rest on the ground until the end
)

// body is one rigid body: stages top to low joined together. Each body has its own integration step, which
// may end after the present; between the step's ends its state is interpolated.
type body struct {
	*environment
	top, low   int // into Flight.stages
	mode       mode
	leftRail   bool // it has left the rail
	onAftGuide bool // on the rail by its aft guide only
	climbing   bool // has had upward speed after leaving the rail
	pastApogee bool // it has passed its apogee

	shape             *shape
	dragSegment       int  // index into the shape's segments
	dragSegmentSet    bool // dragSegment is already set for the next step
	nearSegmentEnd    bool // the Mach number may leave the segment in this step
	pendulumStiffness float64
	fixed             moments // everything that doesn't burn in this step
	burns             []burn
	thrustOffAxis     bool // some thrust has a moment about the centre of gravity
	thrustByPressure  bool // some thrust depends on the air's pressure
	canopies          []canopy
	pathTurns         []pathTurn
	nextCorner        sim.Time // the next corner of a burning motor's curve

	pulses   []pulse
	rings    []ring
	past     []pulse   // that are over
	felt     sim.Shock // sums of those before
	contact  groundContact
	friction float64 // of the ground

	from, to        sim.Time // the step
	span            float64  // s, its length
	y               vector   // at its start
	k               vector   // derivative at its start
	end             vector   // state at its end
	endDerivative   vector
	endAirData      airData   // at its end
	dense           [5]vector // interpolation coefficients
	trySpan         float64   // s, for the next step
	derivativeValid bool      // k is valid
	restarted       bool      // the step doesn't continue the one before
	steps           int
	forcedError     float64 // the largest error of an accepted step that was too large, in units of the tolerance
	flow            flow
	softeningAt     [2]float64 // flow.softening at the step's ends
	forceAt         [2]r3.Vec  // flow.force at the step's ends
	acceleration    accelerationCurve
	stateShown      bool // Flight.states holds its state since the last computeStep
	shockShown      bool // Flight.shocks holds what it feels, and that doesn't change

	recordedTo sim.Time // the record covers it up to here
	allStages  bool     // no stage has separated
	searchedTo sim.Time // zero crossings up to here are found
	crossing   zeroCrossing
}

// environment is what all bodies share.
type environment struct {
	air     *Air
	wind    wind
	gravity gravity
	rail    rail

	tolerance float64
	solver    Solver
	ceiling   float64 // m above the pad: the air model ends here
}

// load collects a body's dry mass, burning motors and open devices at the start of a step.
func (f *Flight) load(b *body) {
	t := b.from
	b.fixed = moments{}
	b.burns = b.burns[:0]
	b.canopies = b.canopies[:0]
	b.endPulses(t)
	b.thrustOffAxis, b.thrustByPressure = false, false
	b.nextCorner = sim.Never
	front := 0.0
	for i := b.top; i <= b.low; i++ {
		st := &f.stages[i]
		d := st.dry
		d.second += float64(2*front*d.first) + float64(d.mass*float64(front*front))
		d.first += float64(front * d.mass)
		b.fixed.mass += d.mass
		b.fixed.first += d.first
		b.fixed.second += d.second
		b.fixed.axial += d.axial
		g := newGrain(&st.spec.Mount, front)
		for k := range st.motors {
			b.loadMotor(&st.motors[k], &st.spec.Mount, &g, front)
		}
		for k := range st.devices {
			d := &st.devices[k]
			if d.lineStretchAt > t {
				continue
			}
			b.canopies = append(b.canopies, d.canopy(t))
		}
		front += st.spec.Length
	}
	b.massProperties(0, &b.flow.massProperties)
	if !b.derivativeValid && !b.dragSegmentSet {
		b.dragSegment = b.shape.segmentAt(math.Sqrt(b.peakTermsAt(0)[1]))
	}
	b.dragSegmentSet = false
}

// loadMotor adds one motor of a mount whose stage begins at front.
func (b *body) loadMotor(o *motor, m *sim.Mount, g *grain, front float64) {
	if !o.burning {
		b.fixed.addGrain(o.propellant, g)
		return
	}
	since := b.from - o.ignitedAt
	seg := o.curve.segment(since)
	thrust, slope, burnt := o.curve.evaluate(seg, since)
	b.burns = append(b.burns, burn{
		thrust: thrust, slope: slope, left: m.Motor.Propellant - burnt, massPerImpulse: o.curve.massPerImpulse,
		grain: *g, nozzle: front + m.Station + m.Motor.Length, y: o.y, z: o.z, thrustAxis: o.thrustAxis,
		exitArea: m.Motor.ExitArea, measuredAt: m.Motor.MeasuredAt(),
	})
	b.thrustByPressure = b.thrustByPressure || m.Motor.ExitArea > 0
	b.thrustOffAxis = b.thrustOffAxis || o.offAxis()
	b.nextCorner = min(b.nextCorner, o.ignitedAt+o.curve.at[seg+1])
}

// filling says that a device doesn't have its steady area yet.
func (b *body) filling() bool {
	for i := range b.canopies {
		if !b.canopies[i].full {
			return true
		}
	}
	return false
}

// restart ends the current step at t. Zero crossings found after t are dropped, and the body continues from
// there with new forces.
func (b *body) restart(t sim.Time) {
	if !b.atRest() {
		var y vector
		b.vectorAt(t, &y)
		y.normalise()
		b.y, b.end = y, y
	}
	b.from, b.searchedTo = t, t
	b.emptyStep()
	b.derivativeValid = false
	b.trySpan = min(b.trySpan, 0.01)
}

// emptyStep makes a step of zero length at the present state.
func (b *body) emptyStep() {
	b.to, b.span, b.end = b.from, 0, b.y
	b.dense = [5]vector{b.y}
	b.crossing = zeroCrossing{at: sim.Never}
}

// rest puts a body to rest where it is.
func (b *body) rest(m mode) {
	b.mode = m
	for i := atVelocity; i < atAttitude; i++ {
		b.y[i] = 0
	}
	for i := atRates; i < len(b.y); i++ {
		b.y[i] = 0
	}
	b.end = b.y
}
