// Package rig is what connects this computer with the boards: pins that monitor outputs, pins that switch supply,
// arming loop and breakwires, and the dummy loads at the outputs.
//
// It always leaves drive pins at their safe levels: at the start, at the end, when the context ends, and, by a
// separate guard process, when this process is killed. It does not begin with outputs whose loads are not declared.
// It does not rely on a board's report of an edge where a pin can show it.
//
// This can hurt people. Dummy loads only, no motor, igniter or charge; follow your national code and your range
// safety officer. A pin that nobody drives may float: the wiring itself must be safe then.
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

	host     host
	monitors []*pinMonitor
	drives   []*drive
	guard    *guard

	mu        sync.Mutex
	offSince  map[string]time.Time // when each board's supply was switched off
	safe      bool
	closed    bool
	failed    error       // what failed between exchanges
	stopWatch func() bool // stops watching the context
}

// drive is a drive pin that this process holds.
type drive struct {
	harness.Drive
	out output
	on  bool
}

// level is the level of a pin for on or off.
func level(p harness.Pin, on bool) bool { return on != p.ActiveLow }

// Options of Open.
type Options struct {
	// Guard is the command that starts the guard process; nil: no guard, for tests of other things.
	Guard []string
	host  host // for tests; nil: as in the rig's file
}

// Open takes all pins, drives every drive pin to its safe level, starts the guard, and begins to monitor the outputs.
// When ctx is done the rig is made safe at once.
func Open(ctx context.Context, spec harness.Rig, opt Options) (*Rig, error) {
	r := &Rig{Spec: spec, host: opt.host, offSince: map[string]time.Time{}}
	var err error
	if r.host == nil {
		if r.host, err = hostOf(&spec); err != nil {
			return nil, fmt.Errorf("rig: %w", err)
		}
	}
	if err := r.take(opt); err != nil {
		return nil, errors.Join(fmt.Errorf("rig: %w", err), r.Close())
	}
	r.stopWatch = context.AfterFunc(ctx, func() { _ = r.Safe() })
	return r, nil
}

func (r *Rig) take(opt Options) (err error) {
	for _, d := range inSafeOrder(r.Spec.Drives) {
		out, err := r.host.output(d.Name, level(d.Pin, d.SafeOn))
		if err != nil {
			return fmt.Errorf("%s: drive %s: %w", d.Place, d.Label, err)
		}
		r.drives = append(r.drives, &drive{d, out, d.SafeOn})
		if d.Does == harness.DrivePower {
			r.offSince[d.Role] = time.Now()
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
			r.monitors = append(r.monitors, startMonitor(in, b.Role, o))
		}
	}
	return nil
}

// inSafeOrder sorts drives into the order in which they are made safe.
func inSafeOrder(drives []harness.Drive) []harness.Drive {
	return slices.SortedStableFunc(slices.Values(drives), func(a, b harness.Drive) int { return int(a.Does) - int(b.Does) })
}

// Set switches all drives of a kind for a board. Without such a drive it does nothing.
func (r *Rig) Set(kind harness.DriveKind, role string, on bool) error {
	_, err := r.set(func(d *drive) bool { return d.Does == kind && d.Role == role }, on)
	return err
}

// set switches some drives, and gives the longest delay of those that it moved.
func (r *Rig) set(which func(*drive) bool, on bool) (delay sim.Time, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, d := range r.drives {
		if !which(d) || d.on == on {
			continue
		}
		if r.safe {
			return delay, fmt.Errorf("rig: drive %s: %w", d.Label, ErrSafe)
		}
		if err := d.out.set(level(d.Pin, on)); err != nil {
			return delay, fmt.Errorf("rig: drive %s: %w", d.Label, err)
		}
		delay = max(delay, d.Delay+d.Within)
		if d.on = on; d.Does == harness.DrivePower && !on {
			r.offSince[d.Role] = time.Now()
		}
	}
	return delay, nil
}

// Has says whether the rig has a drive of a kind for a board, and the longest delay of these.
func (r *Rig) Has(kind harness.DriveKind, role string) (delay sim.Time, ok bool) {
	for _, d := range r.drives {
		if d.Does == kind && d.Role == role {
			delay, ok = max(delay, d.Delay+d.Within), true
		}
	}
	return delay, ok
}

// Safe drives every drive pin to its safe level, the arming loops first, and keeps it there. If one pin fails, the
// others are still made safe.
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

// Close makes the rig safe, and releases the guard and the pins. It may be called twice.
func (r *Rig) Close() error {
	err := r.Safe()
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil
	}
	r.closed = true
	if r.stopWatch != nil {
		r.stopWatch()
	}
	for _, e := range r.monitors {
		e.close()
	}
	herr := r.host.close()
	if r.guard != nil {
		err = errors.Join(err, r.guard.release())
	}
	return errors.Join(err, herr)
}

// Guarded says that a guard process is running.
func (r *Rig) Guarded() bool { return r.guard != nil }
