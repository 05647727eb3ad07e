package flight

import "drystage/sim"

// wish is something that an ideal flight does when the builder means it to happen.
type wish struct {
	when sim.Anchor
	what appointment
	done bool
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
			f.wish(st.Mount.Lit, appointment{what: lighting, stage: i, device: allMotors})
		}
		for k := range st.Recovery {
			f.wish(st.Recovery[k].Opens, appointment{what: stretching, stage: i, device: k})
		}
	}
	f.start()
	f.wakeWishes()
	f.look()
	return f
}

// wish notes a wish; an empty anchor is none.
func (f *Flight) wish(a sim.Anchor, what appointment) {
	if a != (sim.Anchor{}) {
		f.wishes = append(f.wishes, wish{when: a, what: what})
	}
}

// wakeWishes enters the wishes whose time is known into the diary.
func (f *Flight) wakeWishes() {
	for i := range f.wishes {
		w := &f.wishes[i]
		if w.done {
			continue
		}
		at, ok := sim.Time(0), false
		if w.when.Offset < 0 {
			at, ok = w.when.In(f.setup.Rehearsed)
		}
		if !ok {
			at, ok = w.when.In(f.events)
		}
		if ok {
			w.done = true
			w.what.at = max(f.now, at)
			f.enter(w.what)
		}
	}
}
