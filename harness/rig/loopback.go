package rig

import (
	"context"
	"fmt"
	"time"

	"drystage/harness"
	"drystage/harness/board/link"
)

// edgeTimeout is how long an edge may take, beyond its debounce.
const edgeTimeout = 500 * time.Millisecond

// Loopback toggles a loopback drive n times. It gives the time of each edge, from the call that drives the pin to the
// stamp of the pin that sees it, and how many edges never came. It waits for edges as a run does.
func (r *Rig) Loopback(ctx context.Context, label string, n int, step func(done int)) (lat Latencies, lost int, err error) {
	var d *drive
	for _, x := range r.drives {
		if x.Label == label && x.Does == harness.DriveLoopback {
			d = x
		}
	}
	if d == nil {
		return nil, 0, fmt.Errorf("rig: no loopback drive %q", label)
	}
	e := r.monitorOf(d.Role, d.Output)
	hold := time.Duration(e.out.Capture.Debounce)
	on := d.on
	for i := range n {
		if err := link.Wait(ctx, hold+time.Millisecond); err != nil {
			return lat, lost, err
		}
		e.takeEdges() // discard earlier edges
		on = !on
		began := time.Now()
		if err := r.toggle(d, on); err != nil {
			return lat, lost, err
		}
		if !e.waitFor(ctx, on, hold+edgeTimeout) {
			lost++
		} else if seen := e.takeEdges(); len(seen) > 0 {
			lat = append(lat, seen[len(seen)-1].At.Sub(began))
		}
		if step != nil {
			step(i + 1)
		}
	}
	return lat, lost, ctx.Err()
}

func (r *Rig) toggle(d *drive, on bool) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.safe {
		return fmt.Errorf("rig: drive %s: %w", d.Label, ErrSafe)
	}
	d.on = on
	return d.out.set(level(d.Pin, on))
}

// Loopbacks lists the labels of the loopback drives.
func (r *Rig) Loopbacks() (labels []string) {
	for _, d := range r.drives {
		if d.Does == harness.DriveLoopback {
			labels = append(labels, d.Label)
		}
	}
	return labels
}
