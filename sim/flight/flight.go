// Package flight flies a rocket of one or more stages in six degrees of freedom: forces in, next state
// out, events named. It is for benches that need to know where each stage of a vehicle is at any
// instant, how it stands and turns, what its sensors would feel, and what happened when.
//
// The model: rigid bodies of joined stages over a flat earth that turns, in the US Standard Atmosphere
// 1976 shifted to the day, with a steady wind by a law or a table, gusts and Dryden turbulence, under WGS 84
// normal gravity. The earth's turn is there as Coriolis acceleration of what has left the rail: it moves the
// landing of a flight to 1 km by about 1 m and its apogee by 0.02 %; a gyro doesn't feel its 0.004 deg/s.
// Normal forces are Barrowman's with crossflow drag at large angles of attack; drag comes from a table, or
// is built up from the shape. Positions are those of the centre of gravity, counted from where it stood on
// the pad, and a body has landed when its height is 0 again. The rail has the friction and the guides that
// the vehicle gives it; the pad holds the rocket until thrust exceeds weight along the rail. Bodies that
// have parted don't touch each other again.
//
// It never reads a clock or a file, starts no goroutine, knows nothing of boards or sensors, and must
// not be used to plan a real flight: its vehicles are as stiff, straight and well glued as their
// description.
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
	nextAction sim.Time // of the first appointment
	horizon    sim.Time // nothing happens, and every step reaches, before this
	stages     []stage
	bodies     []body
	shapes     [][]shape // by top and low
	queue      []action
	events     []sim.Event
	liftedOff  bool
	newEvents  bool // events were added that anchors haven't seen
	allDown    bool // the last body is down

	thresholds    []threshold
	faults        []fault
	faultActivity uint64
	planned       []plannedAction
	record        record
	warnings      warningLog

	states        []sim.State
	statesCurrent bool // states are those of the present
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
		queue:  make([]action, 0, 64),
		events: make([]sim.Event, 0, 64+len(s.Crossings)),
	}
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
		forcePulses: make([]forcePulse, 0, devices),
		from:        f.now, to: f.now, searchedTo: f.now, recordedTo: f.now, crossing: zeroCrossing{at: sim.Never},
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

// AdvanceTo flies on to t, which is never before the present.
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

// findHorizon finds out how far the flight can go without anything happening.
func (f *Flight) findHorizon() {
	f.horizon = f.nextAction
	for i := range f.bodies {
		f.horizon = min(f.horizon, f.bodies[i].crossing.at, f.bodies[i].to)
	}
}

// runNext does one thing that is due now: what a body ran into first, then an appointment, then the
// next step of a body.
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

// processNewEvents lets everything that waits for events see the new ones.
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

// nextStep goes from the end of a body's step to the next step.
func (f *Flight) nextStep(b *body) {
	f.commitTo(b, b.to)
	if b.mode == onRail || b.mode == free {
		b.y, b.k = b.end, b.endDerivative
	}
	b.from, b.searchedTo = b.to, b.to
	f.computeStep(b)
}

// commitTo makes a body's step certain up to t.
func (f *Flight) commitTo(b *body, t sim.Time) {
	f.recordTo(b, t)
	f.updateThresholds(b, t)
}

// endStepNow ends a body's step at the present, since its forces change now. The caller changes what it has
// to and then calls plan.
func (f *Flight) endStepNow(b *body) {
	f.commitTo(b, f.now)
	b.restart(f.now)
}

// computeStep computes a body's next step from its start, and what it will run into.
func (f *Flight) computeStep(b *body) {
	b.stateShown = false
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
			b.still()
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
// so it may stand before events given earlier. The slice is valid until the next call of To.
func (f *Flight) Events() []sim.Event { return f.events }

// Landed says that every body is down: at rest on the ground, or left behind on the pad, after at
// least one has flown.
func (f *Flight) Landed() bool { return f.allDown }

// FaultActivity has bit i set when vehicle fault i of the Setup has changed something so far.
func (f *Flight) FaultActivity() uint64 { return f.faultActivity }

// AddEvent puts an event of someone else, at the present, among the flight's own.
func (f *Flight) AddEvent(name string) {
	f.emit(name, f.now)
	f.processNewEvents()
}

// emit puts an event in its place among the others.
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

// emitStage is emit for an event of a stage at the present.
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

// fillRows gives the rows of new events the states of their bodies.
func (f *Flight) fillRows() {
	for i := range f.bodies {
		b := &f.bodies[i]
		b.fillState(b.fraction(f.now), &f.scratch)
		f.record.fill(b.top, b.low, &f.scratch)
	}
}
