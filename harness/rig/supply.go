package rig

import (
	"context"
	"time"

	"drystage/harness"
	"drystage/sim"
)

// offFor is how long a supply stays off at least, beyond its drive's delay, so that the capacitors of a
// board don't carry it over. Common practice, no source; a board that rides longer has not been cut,
// and its count of starts says so.
const offFor = 500 * time.Millisecond

// Cuts says that the rig really switches a board's supply.
func (r *Rig) Cuts(role string) bool {
	_, ok := r.Has(harness.DrivePower, role)
	return ok && !r.Spec.Simulated
}

// Supply gives a board its supply, once that has been off for long enough, and waits while it boots. It
// does nothing where the rig has no drive for it; a simulated supply takes no time.
func (r *Rig) Supply(ctx context.Context, bay *sim.Bay) error {
	delay, ok := r.Has(harness.DrivePower, bay.Name)
	if !ok {
		return nil
	}
	if err := r.rest(ctx, bay.Name, delay); err != nil {
		return err
	}
	if err := r.Set(harness.DrivePower, bay.Name, true); err != nil {
		return err
	}
	if r.Spec.Simulated {
		return nil
	}
	return wait(ctx, time.Duration(delay+bay.Boot))
}

// rest waits until a board's supply has been off for long enough; one that is on is on.
func (r *Rig) rest(ctx context.Context, role string, delay sim.Time) error {
	r.mu.Lock()
	since, on := r.off[role], false
	for _, d := range r.drives {
		on = on || d.Does == harness.DrivePower && d.Role == role && d.on
	}
	r.mu.Unlock()
	if left := time.Duration(delay) + offFor - time.Since(since); !on && left > 0 && !r.Spec.Simulated {
		return wait(ctx, left)
	}
	return nil
}
