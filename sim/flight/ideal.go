package flight

import "drystage/sim"

// plannedAction is an action of an ideal flight, at the time that the vehicle file intends.
type plannedAction struct {
	anchor sim.Anchor
	action action
	done   bool
}

// NewIdeal puts the rocket on its pad for a flight without boards and without faults. Everything happens as
// the vehicle file intends: a motor ignites at its mount's Lit, a device is at line stretch at its Opens, a
// separation charge fires at its own stage's burnout. The launch controller fires the lowest motor, with its
// igniter's delay. An anchor before an event needs the event in Setup.Rehearsed; else the action happens at
// the event itself.
func NewIdeal(s *sim.Setup) *Flight {
	f := newFlight(s)
	f.ideal = true
	for i := range f.stages {
		st := f.stages[i].spec
		if i < len(f.stages)-1 {
			f.plan(st.Mount.Lit, action{kind: doIgnite, stage: i, device: allMotors})
		}
		for k := range st.Recovery {
			f.plan(st.Recovery[k].Opens, action{kind: doLineStretch, stage: i, device: k})
		}
	}
	f.setOnPad()
	f.schedulePlanned()
	f.findHorizon()
	return f
}

// plan adds a planned action; an empty anchor adds none.
func (f *Flight) plan(a sim.Anchor, what action) {
	if a != (sim.Anchor{}) {
		f.planned = append(f.planned, plannedAction{anchor: a, action: what})
	}
}

// schedulePlanned schedules the planned actions whose time is known.
func (f *Flight) schedulePlanned() {
	for i := range f.planned {
		w := &f.planned[i]
		if w.done {
			continue
		}
		at, ok := sim.Time(0), false
		if w.anchor.Offset < 0 {
			at, ok = w.anchor.In(f.setup.Rehearsed)
		}
		if !ok {
			at, ok = w.anchor.In(f.events)
		}
		if ok {
			w.done = true
			w.action.at = max(f.now, at)
			f.schedule(w.action)
		}
	}
}
