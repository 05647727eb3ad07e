// Package bench closes the loop between a simulated or recorded flight and the boards on the bench:
// frames out, outputs back, and everything into a record. It never decides what a board should have
// done, and knows neither files nor ports.
package bench

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/sim"
)

// Pacer says when an instant of the run may leave for the boards. It is the only clock of a run.
type Pacer interface {
	// Wait returns when it is time for t, and how late it is.
	Wait(ctx context.Context, t sim.Time) (late sim.Time, err error)
}

// Lockstep paces a run in which the harness's clock is the boards' clock: it never waits.
type Lockstep struct{}

// Wait returns at once, unless ctx is done.
func (Lockstep) Wait(ctx context.Context, _ sim.Time) (sim.Time, error) { return 0, ctx.Err() }

// Run flies src against boards, one per bay of rec.Plan in that order, and fills rec. A board that
// fails ends the run: rec stays incomplete and says why. The error is of ctx only; what a board
// did wrong is part of the record, not of the error.
func Run(ctx context.Context, src sim.Source, boards []board.Board, p Pacer, rec *harness.Record) error {
	if want := len(rec.Plan.Setup.Bays); len(boards) != want {
		return fmt.Errorf("bench: %d boards for %d bays; give one board per bay", len(boards), want)
	}
	l := loop{src: src, boards: boards, pacer: p, rec: rec}
	err := l.fly(ctx)
	// Some events, such as max_q, are known only after later ones.
	slices.SortStableFunc(rec.Events, func(a, b sim.Event) int { return cmp.Compare(a.At, b.At) })
	rec.Health = rec.Health[:0]
	for _, b := range boards {
		rec.Health = append(rec.Health, b.Health())
	}
	return err
}

type loop struct {
	src    sim.Source
	boards []board.Board
	pacer  Pacer
	rec    *harness.Record
	outs   []sim.Output
	reply  harness.Reply
}

func (l *loop) fly(ctx context.Context) error {
	var now sim.Time
	for {
		t, ok := l.src.Step(l.outs)
		if t != nil {
			if err := l.tick(ctx, t); err != nil {
				l.rec.Cause = err.Error()
				return ctx.Err()
			}
			now = t.Now
		}
		if !ok {
			break
		}
	}
	s := &l.rec.Plan.Setup
	if end, ok := s.Until.In(l.rec.Events); ok && now >= end {
		l.rec.Complete = true
	} else {
		l.rec.Cause = fmt.Sprintf("the run did not get to its planned end (%s) by %s", until(s), now)
	}
	return nil
}

// tick keeps one instant in the record, gives each board its frame and gathers what they did. The
// tick that broke is kept too.
func (l *loop) tick(ctx context.Context, t *sim.Tick) error {
	late, err := l.pacer.Wait(ctx, t.Now)
	if err != nil {
		return fmt.Errorf("bench: interrupted at %s", t.Now)
	}
	keep(l.rec, t, late)
	l.outs = l.outs[:0]
	for i, b := range l.boards {
		f := &t.Frames[i]
		l.reply.Reset()
		err := b.Exchange(ctx, f, &l.reply)
		l.gather(i)
		if err != nil {
			return fmt.Errorf("board %s at %s: %w", l.rec.Plan.Boards[i].Role, t.Now, err)
		}
	}
	return nil
}

// gather takes a board's reply over into the record, and its edges to the source.
func (l *loop) gather(bay int) {
	for _, o := range l.reply.Outputs {
		o.Bay = bay
		l.outs = append(l.outs, o)
		l.rec.Outputs = append(l.rec.Outputs, harness.Edge{Output: o, Within: l.reply.Within})
	}
	l.rec.Reports = append(l.rec.Reports, l.reply.Reports...)
	l.rec.Logs = append(l.rec.Logs, l.reply.Logs...)
}

func keep(rec *harness.Record, t *sim.Tick, late sim.Time) {
	rec.Times = append(rec.Times, t.Now)
	if late != 0 || len(rec.Late) > 0 {
		for len(rec.Late) < len(rec.Times)-1 {
			rec.Late = append(rec.Late, 0)
		}
		rec.Late = append(rec.Late, late)
	}
	rec.Active = append(rec.Active, t.Active)
	rec.States = append(rec.States, t.States...)
	rec.Frames = append(rec.Frames, t.Frames...)
	rec.Events = append(rec.Events, t.Events...)
}

func until(s *sim.Setup) string {
	switch {
	case s.Until.Event == "":
		return s.Until.Offset.String()
	case s.Until.Offset == 0:
		return s.Until.Event
	}
	return fmt.Sprintf("%s + %s", s.Until.Event, s.Until.Offset)
}
