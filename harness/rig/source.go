package rig

import (
	"errors"

	"drystage/harness"
	"drystage/sim"
)

// watched is a source of a flight whose events open breakwires.
type watched struct {
	sim.Source
	rig *Rig
}

// Breakwires gives a source that opens every liftoff breakwire at liftoff and every separation breakwire
// at separation.
func (r *Rig) Breakwires(src sim.Source) sim.Source { return &watched{src, r} }

// Step is the source's, with the breakwires opened before the boards get the tick.
func (w *watched) Step(outs []sim.Output) (*sim.Tick, bool) {
	t, ok := w.Source.Step(outs)
	if t == nil {
		return t, ok
	}
	for _, e := range t.Events {
		switch e.Name {
		case sim.EventLiftoff:
			w.rig.cut(harness.DriveLiftoff)
		case sim.EventSeparation:
			w.rig.cut(harness.DriveSeparation)
		}
	}
	return t, ok
}

// cut opens all breakwires of a kind. A failure ends the run by the boards' next exchange.
func (r *Rig) cut(kind harness.DriveKind) {
	for _, b := range r.Spec.Boards {
		if err := r.Set(kind, b.Role, false); err != nil {
			r.mu.Lock()
			r.failed = errors.Join(r.failed, err)
			r.mu.Unlock()
		}
	}
}

// trouble is what failed while nobody could be told.
func (r *Rig) trouble() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.failed
}
