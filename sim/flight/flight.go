// Package flight simulates the flight of a rocket of one or more stages in six degrees of freedom. It gives
// the state of each stage at any instant (position, attitude, rates, specific force) and the events of the
// flight with their times.
//
// The model:
//   - Stages that are joined are one rigid body. Separated bodies don't collide.
//   - The earth is round, with WGS 84 normal gravity and, at a site, the ellipsoid's mean radius there. Positions are
//     distances over the ground at the pad's elevation, and height above it; up, east and north are those of the place
//     where a body is. The earth's rotation acts as Coriolis acceleration on bodies that have left the rail: it moves
//     the landing of a flight to 1 km by about 1 m and its apogee by 0.02 %. Neither its rate (0.004 deg/s) nor the turn
//     of the plumb line along the way (0.009 deg for each km) is measured by the gyros or turns a body.
//   - The air is the US Standard Atmosphere 1976 shifted to the day's temperature and pressure, with a steady
//     wind by a law or a table, gusts and Dryden turbulence.
//   - Normal forces are Barrowman's, with the crossflow drag of a body of finite length at large angles of attack.
//     Drag comes from a table, or is built up from the shape.
//   - Thrust grows as the air thins, by the exit area of the motor's nozzle. The jet damps pitch and yaw.
//   - Positions are those of the centre of gravity, relative to where it was on the pad. A body lands when its
//     height is 0 again: the ground stops it in a pulse, it falls over and lies on its side.
//   - Charges, separations, lines at their stretch and the ground push with half sine waves of some milliseconds.
//   - The rail has the friction and the guides of the vehicle file. The pad holds the rocket until thrust
//     exceeds weight along the rail.
//
// The package reads no clock and no file, starts no goroutine, and knows nothing of boards or sensors. Don't
// plan a real flight with it: its vehicles are perfectly stiff and straight, and nothing breaks.
package flight

import (
	"slices"

	"drystage/sim"
)

// Flight is one flight under way. Its methods must not be called concurrently.
type Flight struct {
	environment
	setup      *sim.Setup
	ideal      bool
	now        sim.Time
	nextAction sim.Time // of the first action in the queue
	horizon    sim.Time // before this no action is due, no zero crossing occurs and no step ends
	stages     []stage
	bodies     []body
	shapes     [][]shape // by top and low
	queue      []action
	events     []sim.Event
	liftedOff  bool
	newEvents  bool // events were added that anchors haven't been checked against
	allDown    bool // all bodies are down

	thresholds    []threshold
	faults        []fault
	faultActivity uint64
	planned       []plannedAction
	record        record
	warnings      warningLog
	pad           padMotion
	swings        []swing // by the body's top stage

	states        []sim.State
	before        []sim.State // those filled in last, which may be the same
	statesCurrent bool        // states and shocks hold the present
	shocks        []sim.Shock
	scratch       sim.State
}

// New puts the rocket on its pad at time 0. The Setup must not change while the flight goes on.
func New(s *sim.Setup) *Flight {
	f := newFlight(s)
	f.addFaults()
	f.setOnPad()
	return f
}

func newFlight(s *sim.Setup) *Flight {
	v := &s.Vehicle
	n := len(v.Stages)
	f := &Flight{
		setup:  s,
		stages: make([]stage, n),
		bodies: make([]body, 0, n),
		shapes: make([][]shape, n),
		states: make([]sim.State, n),
		shocks: make([]sim.Shock, n),
		queue:  make([]action, 0, 64),
		events: make([]sim.Event, 0, 64+len(s.Crossings)),
	}
	f.before = f.states
	f.air = NewAir(v.Site)
	f.wind = newWind(&s.Wind, s.Seed)
	f.gravity = newGravity(v.Site)
	f.rail = newRail(&v.Rail)
	f.ceiling = f.air.top()
	if s.Wind.Turbulence.On {
		f.ceiling = min(f.ceiling, highestHeight*metresPerFoot)
	}
	f.tolerance = tolerance
	for i := range f.stages {
		f.stages[i] = newStage(&v.Stages[i], s.Seed)
		f.shapes[i] = make([]shape, n)
		for low := i; low < n; low++ {
			f.shapes[i][low] = newShape(v.Stages, i, low)
		}
	}
	f.swings = newSwings(s)
	devices := 0
	for i := range f.stages {
		devices += len(f.stages[i].devices)
	}
	f.record = newRecord(cap(f.events), devices, n)
	f.warnings = newWarningLog()
	for i := range s.Crossings {
		c := &s.Crossings[i]
		if c.Stage >= 0 && c.Stage < n {
			f.thresholds = append(f.thresholds, threshold{spec: c})
		}
	}
	return f
}

// setOnPad sets the whole rocket on the pad.
func (f *Flight) setOnPad() {
	n := len(f.stages)
	if n == 0 {
		f.horizon, f.nextAction = sim.Never, sim.Never
		return
	}
	f.schedule(action{at: f.setup.Launch, kind: doLaunch, stage: n - 1})
	b := f.newBody(0, n-1)
	b.allStages = true
	a := f.rail.attitude
	b.y[6], b.y[7], b.y[8], b.y[9] = a.Real, a.Imag, a.Jmag, a.Kmag
	b.y.normalise()
	b.end = b.y
	f.computeStep(b)
	f.pad = newPadMotion(f, b)
	f.findHorizon()
}

// newBody adds a body of stages top to low at the present.
func (f *Flight) newBody(top, low int) *body {
	n := len(f.stages)
	devices := 0
	for i := range f.stages {
		devices += len(f.stages[i].devices)
	}
	f.bodies = append(f.bodies, body{
		environment: &f.environment, top: top, low: low, trySpan: 0.01,
		burns: make([]burn, 0, n), canopies: make([]canopy, 0, devices),
		pulses: make([]pulse, 0, devices+pulseRoom), rings: make([]ring, 0, devices+pulseRoom),
		from: f.now, to: f.now, searchedTo: f.now, recordedTo: f.now, crossing: zeroCrossing{at: sim.Never},
	})
	b := &f.bodies[len(f.bodies)-1]
	f.setShape(b)
	return b
}

// setShape gives a body the shape of its stages.
func (f *Flight) setShape(b *body) {
	b.shape = &f.shapes[b.top][b.low]
	b.pendulumStiffness = pendulumStiffness(b.shape.size)
}

// bodyOf finds the body that a stage belongs to.
func (f *Flight) bodyOf(stage int) *body {
	for i := range f.bodies {
		if b := &f.bodies[i]; b.top <= stage && stage <= b.low {
			return b
		}
	}
	return nil
}

// AdvanceTo continues the flight to t, which must not be before the present.
func (f *Flight) AdvanceTo(t sim.Time) {
	if t != f.now {
		f.statesCurrent = false
	}
	for t >= f.horizon {
		f.now = f.horizon
		f.statesCurrent = false
		f.runNext()
		f.findHorizon()
	}
	f.now = max(f.now, t)
}

// findHorizon sets the horizon to the next instant at which something has to be done.
func (f *Flight) findHorizon() {
	f.horizon = f.nextAction
	for i := range f.bodies {
		f.horizon = min(f.horizon, f.bodies[i].crossing.at, f.bodies[i].to)
	}
}

// runNext does one thing that is due now: first a zero crossing of a body, then an action of the queue, then
// the next step of a body.
func (f *Flight) runNext() {
	for i := range f.bodies {
		if f.bodies[i].crossing.at <= f.now {
			f.handleCrossing(&f.bodies[i])
			f.processNewEvents()
			return
		}
	}
	if f.nextAction <= f.now {
		f.runDue()
		f.processNewEvents()
		return
	}
	for i := range f.bodies {
		if b := &f.bodies[i]; b.to <= f.now {
			f.nextStep(b)
			return
		}
	}
}

// processNewEvents starts whatever waits for one of the new events.
func (f *Flight) processNewEvents() {
	if f.record.unfilled > 0 {
		f.fillRows()
	}
	for f.newEvents {
		f.newEvents = false
		f.scheduleFaults()
		f.schedulePlanned()
		f.checkAllDown()
	}
}

// nextStep begins a body's next step at the end of the last one.
func (f *Flight) nextStep(b *body) {
	f.commitTo(b, b.to)
	if !b.atRest() {
		b.y, b.k = b.end, b.endDerivative
	}
	b.from, b.searchedTo = b.to, b.to
	if b.comesToRest(b.from) {
		b.rest(landed)
	}
	f.computeStep(b)
}

// commitTo makes a body's step final up to t: it won't be recomputed.
func (f *Flight) commitTo(b *body, t sim.Time) {
	f.recordTo(b, t)
	f.updateThresholds(b, t)
}

// endStepNow ends a body's step at the present, because its forces change now. The caller makes the change and
// then calls computeStep.
func (f *Flight) endStepNow(b *body) {
	f.commitTo(b, f.now)
	b.restart(f.now)
}

// computeStep computes a body's next step and finds its first zero crossing.
func (f *Flight) computeStep(b *body) {
	b.stateShown, b.acceleration.tried = false, false
	f.load(b)
	switch b.mode {
	case landed:
		b.to = b.nextCorner
		f.findJumpAtRest(b)
	case onPad:
		b.to = b.nextCorner
		f.findLiftoff(b)
	default:
		limit := b.nextCorner
		if f.nextAction > b.from {
			limit = min(limit, f.nextAction)
		}
		if limit <= b.from { // something else is due first
			b.emptyStep()
			return
		}
		b.advance(limit)
		if b.forcedError > 1 {
			f.warnings.add(sim.ErrorBeyond, b.top, b.from, b.forcedError, 1)
			b.forcedError = 0
		}
		b.nearSegmentEnd = b.mayLeaveDragSegment()
		f.findCrossing(b)
	}
}

// Events gives all events so far in order of time. max_q comes with its true time when it is known,
// so it may stand before events given earlier. The slice is valid until the next call of AdvanceTo.
func (f *Flight) Events() []sim.Event { return f.events }

// Landed says that every body is down: at rest on the ground, or left behind on the pad, after at
// least one has flown.
func (f *Flight) Landed() bool { return f.allDown }

// FaultActivity has bit i set when vehicle fault i of the Setup has had an effect so far.
func (f *Flight) FaultActivity() uint64 { return f.faultActivity }

// AddEvent adds an event from outside at the present.
func (f *Flight) AddEvent(name string) {
	f.emit(name, f.now)
	f.processNewEvents()
}

// emit inserts an event in order of time.
func (f *Flight) emit(name string, at sim.Time) {
	i := len(f.events)
	for i > 0 && f.events[i-1].At > at {
		i--
	}
	e := sim.Event{Name: name, At: at}
	f.events = slices.Insert(f.events, i, e)
	f.record.event(0, e)
	f.newEvents = true
}

// emitStage inserts an event of a stage at the present.
func (f *Flight) emitStage(stage int, name string) {
	e := sim.Event{Name: name, At: f.now}
	i := len(f.events)
	for i > 0 && f.events[i-1].At > e.At {
		i--
	}
	f.events = slices.Insert(f.events, i, e)
	f.record.event(stage, e)
	f.newEvents = true
}

// fillRows fills the rows of new events with the states of their bodies.
func (f *Flight) fillRows() {
	for i := range f.bodies {
		b := &f.bodies[i]
		b.fillState(b.fraction(f.now), &f.scratch)
		f.record.fill(b.top, b.low, &f.scratch)
	}
}
