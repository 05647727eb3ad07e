package flight

import "drystage/sim"

// plannedAction is something that an ideal flight does when the builder means it to happen.
type plannedAction struct {
	anchor sim.Anchor
	action action
	done   bool
}

// NewIdeal puts the rocket on its pad for a flight without boards and without faults, in which
// everything happens when the builder means it to: a motor lights at its mount's Lit, a device is at
// line stretch at its Opens, a separation charge fires at its own stage's burnout. The lowest motor is
// fired by the launch controller and has its igniter's delay. An anchor before its event can only be
// kept when Setup.Rehearsed has the event; else it happens at the event.
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

// plan notes a wish; an empty anchor is none.
func (f *Flight) plan(a sim.Anchor, what action) {
	if a != (sim.Anchor{}) {
		f.planned = append(f.planned, plannedAction{anchor: a, action: what})
	}
}

// schedulePlanned enters the wishes whose time is known into the diary.
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
