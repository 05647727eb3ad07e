// Package rig is the bench between this computer and the boards: pins that see their outputs, pins
// that switch supply, arming loop and breakwires, and the dummy loads that hang on them.
//
// It never leaves a drive pin unsafe: at the start, at the end, when the context ends, and, by a
// guard process of its own, when this process is killed. It never begins on outputs whose loads are
// not declared, and never takes a board's word for an edge that a pin can see.
//
// This can hurt people. Dummy loads only, no motor, igniter or charge; follow your national code and
// your range safety officer. A pin that nobody holds may float: the wiring itself must be safe then.
package rig

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"drystage/harness"
	"drystage/sim"
)

// ErrSafe says that the rig has been made safe, so that nothing can be switched on any more.
var ErrSafe = errors.New("the rig has been made safe")

// ErrPin says that a pin could not be taken, read or driven.
var ErrPin = errors.New("pin trouble")

// Rig is an opened rig.
type Rig struct {
	Spec harness.Rig

	host   host
	eyes   []*eye
	drives []*drive
	guard  *guard

	mu     sync.Mutex
	off    map[string]time.Time // since when a board's supply is off
	safe   bool
	closed bool
	failed error       // of what happened between exchanges
	undo   func() bool // of the context's watch
}

// drive is a drive pin that is held.
type drive struct {
	harness.Drive
	out output
	on  bool
}

// level is the pin's level for a state.
func level(p harness.Pin, on bool) bool { return on != p.ActiveLow }

// Options of Open.
type Options struct {
	// Guard starts this program anew as the guard of the pins; nil: there is none, as in tests of
	// other things.
	Guard []string
	host  host // for tests; nil: as the rig's file says
}

// Open takes all pins, drives every drive pin to its safe level, starts the guard and begins to watch
// the outputs. When ctx is done the rig is made safe at once.
func Open(ctx context.Context, spec harness.Rig, opt Options) (*Rig, error) {
	r := &Rig{Spec: spec, host: opt.host, off: map[string]time.Time{}}
	var err error
	if r.host == nil {
		if r.host, err = hostOf(&spec); err != nil {
			return nil, fmt.Errorf("rig: %w", err)
		}
	}
	if err := r.take(opt); err != nil {
		return nil, errors.Join(fmt.Errorf("rig: %w", err), r.Close())
	}
	r.undo = context.AfterFunc(ctx, func() { _ = r.Safe() })
	return r, nil
}

func (r *Rig) take(opt Options) (err error) {
	for _, d := range safest(r.Spec.Drives) {
		out, err := r.host.output(d.Name, level(d.Pin, d.SafeOn))
		if err != nil {
			return fmt.Errorf("%s: drive %s: %w", d.Place, d.Label, err)
		}
		r.drives = append(r.drives, &drive{d, out, d.SafeOn})
		if d.Does == harness.DrivePower {
			r.off[d.Role] = time.Now()
		}
	}
	if len(opt.Guard) > 0 && len(r.drives) > 0 {
		if r.guard, err = startGuard(opt.Guard, &r.Spec); err != nil {
			return err
		}
	}
	for _, b := range r.Spec.Boards {
		for _, o := range b.Outputs {
			if o.Capture.Name == "" {
				continue
			}
			in, err := r.host.input(o.Capture)
			if err != nil {
				return fmt.Errorf("%s: output %s.%s: %w", o.Place, b.Role, o.Name, err)
			}
			r.eyes = append(r.eyes, open(in, b.Role, o))
		}
	}
	return nil
}

// safest gives drives in the order in which they are made safe.
func safest(drives []harness.Drive) []harness.Drive {
	return slices.SortedStableFunc(slices.Values(drives), func(a, b harness.Drive) int { return int(a.Does) - int(b.Does) })
}

// Set switches all drives of a kind and a board. Without such a drive it does nothing.
func (r *Rig) Set(kind harness.DriveKind, role string, on bool) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, d := range r.drives {
		if d.Does != kind || d.Role != role || d.on == on {
			continue
		}
		if r.safe {
			return fmt.Errorf("rig: drive %s: %w", d.Label, ErrSafe)
		}
		if err := d.out.set(level(d.Pin, on)); err != nil {
			return fmt.Errorf("rig: drive %s: %w", d.Label, err)
		}
		if d.on = on; kind == harness.DrivePower && !on {
			r.off[role] = time.Now()
		}
	}
	return nil
}

// Has says that the rig has a drive of a kind for a board, and how long the slowest of them takes.
func (r *Rig) Has(kind harness.DriveKind, role string) (delay sim.Time, ok bool) {
	for _, d := range r.drives {
		if d.Does == kind && d.Role == role {
			delay, ok = max(delay, d.Delay+d.Within), true
		}
	}
	return delay, ok
}

// Safe drives every drive pin to its safe level, the arming loops first, and keeps it there. A pin
// that fails does not keep the others from being made safe.
func (r *Rig) Safe() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.safe = true
	var errs []error
	for _, d := range r.drives {
		if err := d.out.set(level(d.Pin, d.SafeOn)); err != nil {
			errs = append(errs, fmt.Errorf("rig: drive %s is NOT safe: %w; cut the supply by hand", d.Label, err))
			continue
		}
		d.on = d.SafeOn
	}
	return errors.Join(errs...)
}

// Close makes the rig safe, lets the guard go and the pins too. Twice is fine.
func (r *Rig) Close() error {
	err := r.Safe()
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil
	}
	r.closed = true
	if r.undo != nil {
		r.undo()
	}
	for _, e := range r.eyes {
		e.close()
	}
	herr := r.host.close()
	if r.guard != nil {
		err = errors.Join(err, r.guard.release())
	}
	return errors.Join(err, herr)
}

// Guarded says that a guard process watches over the pins.
func (r *Rig) Guarded() bool { return r.guard != nil }

// wait blocks for a span, or until ctx is done.
func wait(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
