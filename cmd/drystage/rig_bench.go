package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/rig"
	"drystage/sim"
)

// onRig is a bench whose boards sit on a rig. A nil one is a bench without.
type onRig struct {
	r        *rig.Rig
	measured *rig.Measured

	mu    sync.Mutex
	flown map[int][]*rig.Board // by flight
}

// mount confirms that the bench is inert and opens the rig, if one is named. Nothing is switched on
// before every load is declared, confirmed and, where a board can measure, measured.
func (c *benchCmd) mount(d *desk, seats *seating, plans []harness.Plan) (*onRig, error) {
	if c.Rig == "" {
		for _, a := range seats.addresses() {
			if wired(a) {
				return nil, status{refused, errorf("refused: no rig declares the dummy loads of the board at %s; say --rig FILE, and start from scenarios/rigs/simulated.yaml", a)}
			}
		}
		return nil, c.safe(d, seats)
	}
	spec, err := loadRig(d, c.Rig)
	if err != nil {
		return nil, err
	}
	for i := range plans {
		if err := rig.CheckLoads(&spec, &plans[i]); err != nil {
			return nil, status{refused, err}
		}
	}
	for _, b := range spec.Boards {
		if _, given := seats.byRole[b.Role]; b.Address != "" && !given && !seats.given {
			seats.byRole[b.Role] = b.Address
		}
	}
	if !spec.Simulated || seats.real() {
		if err := confirm(d, c.Inert); err != nil {
			return nil, err
		}
	}
	c.Jobs = 1
	o, err := c.power(d, seats, plans, &spec)
	if err != nil {
		return nil, err
	}
	seats.cuts = o.r.Cuts
	if why := o.measured.Stale(&spec, hostname(), time.Now()); why != "" {
		sayf(d.err, "rig: %s: edges seen by pins count ±%s, and what hangs on a narrow window stays unsure; say drystage rig %s --measure, or --loopback\n",
			why, time.Duration(spec.Default), spec.File)
	}
	return o, nil
}

// power opens the rig and asks every board once what hangs on its outputs.
func (c *benchCmd) power(d *desk, seats *seating, plans []harness.Plan, spec *harness.Rig) (*onRig, error) {
	measured, err := rig.LoadMeasured(spec.File)
	if err != nil {
		return nil, status{unsure, err}
	}
	guard, err := guardArgs()
	if err != nil {
		return nil, err
	}
	r, err := rig.Open(d.ctx, *spec, rig.Options{Guard: guard})
	if err != nil {
		return nil, status{unsure, err}
	}
	o := &onRig{r: r, measured: measured, flown: map[int][]*rig.Board{}}
	asked := map[string]bool{}
	for i := range plans {
		for k, b := range plans[i].Boards {
			if asked[b.Role] {
				continue
			}
			asked[b.Role] = true
			note, err := o.preflight(d, seats, b, &plans[i].Setup.Bays[k])
			if err != nil {
				return nil, errors.Join(err, r.Close())
			}
			fmt.Fprintln(d.err, "rig:", note)
		}
	}
	return o, nil
}

// preflight supplies one board, unarmed, and asks it for its readings.
func (o *onRig) preflight(d *desk, seats *seating, b harness.Board, bay *sim.Bay) (string, error) {
	if err := o.supply(d, bay); err != nil {
		return "", err
	}
	l, err := seats.link(d, b)
	if err != nil {
		return "", status{unsure, errorf("board %s: %w", b.Role, err)}
	}
	defer l.Close()
	note, err := rig.Preflight(d.ctx, l, &o.r.Spec, bay)
	switch {
	case errors.Is(err, rig.ErrRefused):
		return "", status{refused, err}
	case err != nil:
		return "", status{unsure, err}
	}
	return note, o.r.Set(harness.DrivePower, b.Role, false)
}

// supply switches a board on, where the rig can, and gives it its time to boot.
func (o *onRig) supply(d *desk, bay *sim.Bay) error {
	err := o.r.Supply(d.ctx, bay)
	switch {
	case d.ctx.Err() != nil:
		return status{unsure, errors.New("interrupted")}
	case err != nil:
		return status{unsure, err}
	}
	return nil
}

// watch gives a source whose events reach the rig's breakwires.
func (o *onRig) watch(src sim.Source) sim.Source {
	if o == nil {
		return src
	}
	return o.r.Breakwires(src)
}

// seat puts the boards of a flight on the rig. clock is the run's in real time, and nil in lockstep.
func (o *onRig) seat(flight int, p *harness.Plan, boards []board.Board, clock func() sim.Time, err error) ([]board.Board, error) {
	if o == nil || err != nil {
		return boards, err
	}
	var wrapped []*rig.Board
	for i, b := range boards {
		role := p.Boards[i].Role
		s := rig.Mount{Index: i, Bay: &p.Setup.Bays[i], Timing: func(output string) rig.PathTiming {
			return o.measured.Timing(&o.r.Spec, role, output, hostname(), time.Now())
		}}
		if clock != nil {
			s.RunTime = func(t time.Time) sim.Time { return clock() - sim.Time(time.Since(t)) }
		}
		w, err := o.r.Wrap(b, s)
		if err != nil {
			for _, b := range boards {
				b.Close()
			}
			return nil, err
		}
		wrapped = append(wrapped, w)
		boards[i] = w
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	o.flown[flight] = wrapped
	return boards, nil
}

// settle puts into a record what its pins know.
func (o *onRig) settle(flight int, rec *harness.Record) {
	if o == nil {
		return
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, w := range o.flown[flight] {
		w.AddPinTimes(rec)
	}
	delete(o.flown, flight)
}

func (o *onRig) close() error {
	if o == nil {
		return nil
	}
	return o.r.Close()
}

// wired says that an address is a serial port with something at its other end. The pseudo-terminal of
// an emulator has no outputs that could burn.
func wired(address string) bool {
	kind, rest, _ := strings.Cut(address, ":")
	if kind != "serial" {
		return false
	}
	name, _, _ := strings.Cut(rest, "?")
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
	}
	return !strings.HasPrefix(name, "/dev/pts/")
}
