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
	surroundings
	setup  *sim.Setup
	ideal  bool
	now    sim.Time
	due    sim.Time // of the first appointment
	ahead  sim.Time // nothing happens, and every step reaches, before this
	stages []stage
	bodies []body
	shapes [][]shape // by top and low
	diary  []appointment
	events []sim.Event
	lifted bool
	grown  bool // events were added that anchors haven't seen
	downed bool // the last body is down

	watches []watch
	faults  []fault
	faulted uint64
	wishes  []wish
	record  record
	doubts  doubts

	states []sim.State
	fresh  bool // states are those of the present
	probe  sim.State
}

// New puts the rocket on its pad at time 0. The Setup must not change while the flight goes on.
func New(s *sim.Setup) *Flight {
	f := newFlight(s)
	f.hireFaults()
	f.start()
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
		diary:  make([]appointment, 0, 64),
		events: make([]sim.Event, 0, 64+len(s.Crossings)),
	}
	f.air = NewAir(v.Site)
	f.wind = newWind(&s.Wind, s.Seed)
	f.gravity = newGravity(v.Site)
	f.rail = newRail(&v.Rail)
	f.ceiling = f.air.top()
	if s.Wind.Turbulence.On {
		f.ceiling = min(f.ceiling, highestRough*foot)
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
	f.doubts = newDoubts()
	for i := range s.Crossings {
		c := &s.Crossings[i]
		if c.Stage >= 0 && c.Stage < n {
			f.watches = append(f.watches, watch{spec: c})
		}
	}
	return f
}

// start sets the whole rocket on the pad.
func (f *Flight) start() {
	n := len(f.stages)
	if n == 0 {
		f.ahead, f.due = sim.Never, sim.Never
		return
	}
	f.enter(appointment{at: f.setup.Launch, what: launching, stage: n - 1})
	b := f.newBody(0, n-1)
	b.whole = true
	a := f.rail.attitude
	b.y[6], b.y[7], b.y[8], b.y[9] = a.Real, a.Imag, a.Jmag, a.Kmag
	b.y.normalise()
	b.end = b.y
	f.plan(b)
	f.look()
}

// newBody adds a body of stages top to low at the present.
func (f *Flight) newBody(top, low int) *body {
	n := len(f.stages)
	devices := 0
	for i := range f.stages {
		devices += len(f.stages[i].devices)
	}
	f.bodies = append(f.bodies, body{
		surroundings: &f.surroundings, top: top, low: low, try: 0.01,
		burns: make([]burn, 0, n), canopies: make([]canopy, 0, devices),
		pulls: make([]pull, 0, devices),
		from:  f.now, to: f.now, seen: f.now, gauged: f.now, found: finding{at: sim.Never},
	})
	b := &f.bodies[len(f.bodies)-1]
	f.form(b)
	return b
}

// form gives a body the shape of its stages.
func (f *Flight) form(b *body) {
	b.shape = &f.shapes[b.top][b.low]
	b.hangStiff = hangStiffness(b.shape.size)
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

// To flies on to t, which is never before the present.
func (f *Flight) To(t sim.Time) {
	if t != f.now {
		f.fresh = false
	}
	for t >= f.ahead {
		f.now = f.ahead
		f.fresh = false
		f.happen()
		f.look()
	}
	f.now = max(f.now, t)
}

// look finds out how far the flight can go without anything happening.
func (f *Flight) look() {
	f.ahead = f.due
	for i := range f.bodies {
		f.ahead = min(f.ahead, f.bodies[i].found.at, f.bodies[i].to)
	}
}

// happen does one thing that is due now: what a body ran into first, then an appointment, then the
// next step of a body.
func (f *Flight) happen() {
	for i := range f.bodies {
		if f.bodies[i].found.at <= f.now {
			f.meet(&f.bodies[i])
			f.settle()
			return
		}
	}
	if f.due <= f.now {
		f.keep()
		f.settle()
		return
	}
	for i := range f.bodies {
		if b := &f.bodies[i]; b.to <= f.now {
			f.follow(b)
			return
		}
	}
}

// settle lets everything that waits for events see the new ones.
func (f *Flight) settle() {
	if f.record.blank > 0 {
		f.fillRows()
	}
	for f.grown {
		f.grown = false
		f.wakeFaults()
		f.wakeWishes()
		f.checkDown()
	}
}

// follow goes from the end of a body's step to the next step.
func (f *Flight) follow(b *body) {
	f.pass(b, b.to)
	if b.mode == onRail || b.mode == free {
		b.y, b.k = b.end, b.endSlope
	}
	b.from, b.seen = b.to, b.to
	f.plan(b)
}

// pass makes a body's step certain up to t.
func (f *Flight) pass(b *body, t sim.Time) {
	f.gauge(b, t)
	f.takeSides(b, t)
}

// cut ends a body's step at the present, since its forces change now. The caller changes what it has
// to and then calls plan.
func (f *Flight) cut(b *body) {
	f.pass(b, f.now)
	b.restart(f.now)
}

// plan computes a body's next step from its start, and what it will run into.
func (f *Flight) plan(b *body) {
	b.shown = false
	f.load(b)
	switch b.mode {
	case landed:
		b.to = b.corner
		f.scanRest(b)
	case onPad:
		b.to = b.corner
		f.scanPad(b)
	default:
		limit := b.corner
		if f.due > b.from {
			limit = min(limit, f.due)
		}
		if limit <= b.from { // something else is due first
			b.still()
			return
		}
		b.advance(limit)
		if b.forced > 1 {
			f.doubts.once(sim.ErrorBeyond, b.top, b.from, b.forced, 1)
			b.forced = 0
		}
		b.bending = b.nearBend()
		f.scan(b)
	}
}

// Events gives all events so far in order of time. max_q comes with its true time when it is known,
// so it may stand before events given earlier. The slice is valid until the next call of To.
func (f *Flight) Events() []sim.Event { return f.events }

// Landed says that every body is down: at rest on the ground, or left behind on the pad, after at
// least one has flown.
func (f *Flight) Landed() bool { return f.downed }

// Faulted has bit i set when vehicle fault i of the Setup has changed something so far.
func (f *Flight) Faulted() uint64 { return f.faulted }

// Note puts an event of someone else, at the present, among the flight's own.
func (f *Flight) Note(name string) {
	f.emit(name, f.now)
	f.settle()
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
	f.grown = true
}

// tell is emit for an event of a stage at the present.
func (f *Flight) tell(stage int, name string) {
	e := sim.Event{Name: name, At: f.now}
	i := len(f.events)
	for i > 0 && f.events[i-1].At > e.At {
		i--
	}
	f.events = slices.Insert(f.events, i, e)
	f.record.event(stage, e)
	f.grown = true
}

// fillRows gives the rows of new events the states of their bodies.
func (f *Flight) fillRows() {
	for i := range f.bodies {
		b := &f.bodies[i]
		b.fillShare(b.share(f.now), &f.probe)
		f.record.fill(b.top, b.low, &f.probe)
	}
}
