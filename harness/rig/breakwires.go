package rig

import (
	"errors"

	"drystage/harness"
	"drystage/sim"
)

// breakwireSource is the source of a flight whose events open breakwires.
type breakwireSource struct {
	sim.Source
	rig *Rig
}

// Breakwires wraps a source: the liftoff breakwires open at liftoff, the separation breakwires at separation.
func (r *Rig) Breakwires(src sim.Source) sim.Source { return &breakwireSource{src, r} }

// Step is the source's step. The breakwires open before the boards get the tick.
func (w *breakwireSource) Step(outs []sim.Output) (*sim.Tick, bool) {
	t, ok := w.Source.Step(outs)
	if t == nil {
		return t, ok
	}
	for _, e := range t.Events {
		switch e.Name {
		case sim.EventLiftoff:
			w.rig.openBreakwires(harness.DriveLiftoff)
		case sim.EventSeparation:
			w.rig.openBreakwires(harness.DriveSeparation)
		}
	}
	return t, ok
}

// openBreakwires opens all breakwires of a kind. A failure ends the run at the boards' next exchange.
func (r *Rig) openBreakwires(kind harness.DriveKind) {
	for _, b := range r.Spec.Boards {
		if err := r.Set(kind, b.Role, false); err != nil {
			r.mu.Lock()
			r.failed = errors.Join(r.failed, err)
			r.mu.Unlock()
		}
	}
}

// failure is what failed between exchanges.
func (r *Rig) failure() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.failed
}
