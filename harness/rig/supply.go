package rig

import (
	"context"
	"time"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/sim"
)

// shortestOff is how long a supply stays off at least, beyond its drive's delay, so that the capacitors of a board
// are empty. Common practice, no source. A board that runs on is recognised by its count of starts.
const shortestOff = 500 * time.Millisecond

// Cuts says that the rig really switches a board's supply.
func (r *Rig) Cuts(role string) bool {
	_, ok := r.Has(harness.DrivePower, role)
	return ok && !r.Spec.Simulated
}

// Supply switches a board's supply on, once it has been off for long enough, and waits while the board boots. Without
// a drive for it, it does nothing. A simulated supply takes no time.
func (r *Rig) Supply(ctx context.Context, bay *sim.Bay) error {
	delay, ok := r.Has(harness.DrivePower, bay.Name)
	if !ok {
		return nil
	}
	if err := r.waitOff(ctx, bay.Name, delay); err != nil {
		return err
	}
	if err := r.Set(harness.DrivePower, bay.Name, true); err != nil {
		return err
	}
	if r.Spec.Simulated {
		return nil
	}
	return link.Wait(ctx, time.Duration(delay+bay.Boot))
}

// waitOff waits until a board's supply has been off for long enough. It does not wait if the supply is on.
func (r *Rig) waitOff(ctx context.Context, role string, delay sim.Time) error {
	r.mu.Lock()
	since, on := r.offSince[role], false
	for _, d := range r.drives {
		on = on || d.Does == harness.DrivePower && d.Role == role && d.on
	}
	r.mu.Unlock()
	if left := time.Duration(delay) + shortestOff - time.Since(since); !on && left > 0 && !r.Spec.Simulated {
		return link.Wait(ctx, left)
	}
	return nil
}
