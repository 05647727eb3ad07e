package run

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/files/suite"
	"drystage/harness/rig"
	"drystage/sim"
)

// mount has a person confirm that the bench is inert and opens the rig, if one is named. Nothing is switched on
// before every load is declared, confirmed and, where a board can measure, measured.
func (b *Bench) mount(ctx context.Context, plans []harness.Plan) error {
	if b.opt.Rig == "" {
		return b.unmounted()
	}
	spec, err := suite.Rig(b.opt.Rig, b.opt.Notes)
	if err != nil {
		return err
	}
	for i := range plans {
		if err := rig.CheckLoads(&spec, &plans[i]); err != nil {
			return RefusedError{err}
		}
	}
	for _, x := range spec.Boards {
		if _, given := b.boards.byRole[x.Role]; x.Address != "" && !given && !b.boards.given {
			b.boards.byRole[x.Role] = x.Address
		}
	}
	if !spec.Simulated || b.real() {
		if err := b.confirm(); err != nil {
			return err
		}
	}
	if !spec.Simulated && len(b.opt.Guard) == 0 {
		return RefusedError{errors.New("refused: nothing makes the rig's pins safe when this process is killed; give a guard, such as drystage guard")}
	}
	b.opt.Jobs = 1
	if err := b.power(ctx, plans, &spec); err != nil {
		return err
	}
	if why := b.measured.Stale(&spec, Hostname(), time.Now()); why != "" {
		b.stale = harness.Errorf("rig: %s: edges seen by pins count ±%s, and what hangs on a narrow window stays unsure; say drystage rig %s --measure, or --loopback",
			why, time.Duration(spec.Default), spec.File).Error()
	}
	return nil
}

// unmounted is for boards without a rig.
func (b *Bench) unmounted() error {
	all := b.boards.list()
	i := slices.IndexFunc(all, wired)
	if i >= 0 && !b.opt.NoRig {
		return RefusedError{harness.Errorf("refused: no rig declares the dummy loads of the board at %s; say --rig FILE, and start from scenarios/rigs/simulated.yaml", all[i])}
	}
	if !b.real() {
		return nil
	}
	b.opt.Jobs = 1
	err := b.confirm()
	if err != nil && i >= 0 {
		err = RefusedError{errors.Join(err, errors.New("or say --rig FILE: the rig's declared loads are then checked, its pins watched and its supply switched; start from scenarios/rigs/simulated.yaml"))}
	}
	return err
}

// real says that something may be connected that has real outputs.
func (b *Bench) real() bool { return len(b.opt.NMEA) > 0 || b.boards.real() }

func (b *Bench) confirm() error {
	if b.opt.Confirm == nil {
		return RefusedError{errors.New("refused: nobody has confirmed that only dummy loads are connected")}
	}
	return b.opt.Confirm()
}

// power opens the rig and asks every board once what hangs on its outputs.
func (b *Bench) power(ctx context.Context, plans []harness.Plan, spec *harness.Rig) (err error) {
	if b.measured, err = rig.LoadMeasured(spec.File); err != nil {
		return FailedError{err}
	}
	if b.Rig, err = rig.Open(ctx, *spec, rig.Options{Guard: b.opt.Guard}); err != nil {
		return FailedError{err}
	}
	asked := map[string]bool{}
	for i := range plans {
		for k, x := range plans[i].Boards {
			if asked[x.Role] {
				continue
			}
			asked[x.Role] = true
			note, err := b.preflight(ctx, x, &plans[i].Setup.Bays[k])
			if err != nil {
				return err
			}
			fmt.Fprintln(b.opt.Notes, "rig:", note)
		}
	}
	return nil
}

// preflight supplies one board, unarmed, and asks it for its readings.
func (b *Bench) preflight(ctx context.Context, x harness.Board, bay *sim.Bay) (string, error) {
	if err := b.Supply(ctx, bay); err != nil {
		return "", err
	}
	l, err := b.Link(ctx, x)
	if err != nil {
		return "", FailedError{harness.Errorf("board %s: %w", x.Role, err)}
	}
	defer l.Close()
	note, err := rig.Preflight(ctx, l, &b.Rig.Spec, bay)
	switch {
	case errors.Is(err, rig.ErrRefused):
		return "", RefusedError{err}
	case err != nil:
		return "", FailedError{err}
	}
	return note, b.Rig.Set(harness.DrivePower, x.Role, false)
}

// Supply switches a board on, where the rig can, and gives it its time to boot.
func (b *Bench) Supply(ctx context.Context, bay *sim.Bay) error {
	err := b.Rig.Supply(ctx, bay)
	switch {
	case ctx.Err() != nil:
		return FailedError{errors.New("interrupted")}
	case err != nil:
		return FailedError{err}
	}
	return nil
}

// onRig puts the boards of a flight on the rig, if there is one. clock is the run's in real time, and nil in
// lockstep. It closes all boards if one can't be put there.
func (b *Bench) onRig(p *harness.Plan, boards []board.Board, clock func() sim.Time) ([]*rig.Board, error) {
	if b.Rig == nil {
		return nil, nil
	}
	var on []*rig.Board
	for i, x := range boards {
		role := p.Boards[i].Role
		s := rig.Mount{Index: i, Bay: &p.Setup.Bays[i], Timing: func(output string) rig.PathTiming {
			return b.measured.Timing(&b.Rig.Spec, role, output, Hostname(), time.Now())
		}}
		if clock != nil {
			s.RunTime = func(t time.Time) sim.Time { return clock() - sim.Time(time.Since(t)) }
		}
		w, err := b.Rig.Wrap(x, s)
		if err != nil {
			closeAll(boards)
			return nil, err
		}
		on = append(on, w)
		boards[i] = w
	}
	return on, nil
}
