// Package loop closes the loop between a simulated or recorded flight and boards: it sends frames, takes outputs back and
// records everything. It judges nothing and opens no file or port.
package loop

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/clock"
	"drystage/sim"
)

// Pacer decides when the frames of a tick may be sent. It is the only clock of a run.
type Pacer interface {
	// Wait returns when it is time for t, and how late it is.
	Wait(ctx context.Context, t sim.Time) (late sim.Time, err error)
	// Pace describes the pacing, once the run has begun.
	Pace() harness.Pace
	// Done releases what the pacing has acquired: a thread, a priority.
	Done()
}

// Lockstep is for runs in which the harness drives the boards' clocks: it never waits.
type Lockstep struct{}

// Wait returns at once, unless ctx is done.
func (Lockstep) Wait(ctx context.Context, _ sim.Time) (sim.Time, error) { return 0, ctx.Err() }

// Pace is the zero Pace.
func (Lockstep) Pace() harness.Pace { return harness.Pace{} }

// Done does nothing.
func (Lockstep) Done() {}

// Run flies src with boards, one for each bay of rec.Plan in that order, and fills rec. If a board fails, the run ends:
// rec stays incomplete and gives the cause. Only an error of ctx is returned; errors of boards are in the record.
func Run(ctx context.Context, src sim.Source, boards []board.Board, p Pacer, rec *harness.Record) error {
	if want := len(rec.Plan.Setup.Bays); len(boards) != want {
		return fmt.Errorf("bench: %d boards for %d bays; give one board per bay", len(boards), want)
	}
	paced := p.Pace().RealTime
	reserve(rec, paced)
	l := loop{src: src, boards: boards, pacer: p, paced: paced, rec: rec}
	l.filler, _ = src.(filler)
	err := l.fly(ctx)
	l.finish(ctx)
	rec.Pace = p.Pace()
	p.Done()
	clock.AssignTimes(rec)
	// Some events, such as max_q, are known only after later ones.
	slices.SortStableFunc(rec.Events, func(a, b sim.Event) int { return cmp.Compare(a.At, b.At) })
	if rec.Cause == "" && !rec.Complete() {
		rec.Cause = cause(rec)
	}
	rec.Health = rec.Health[:0]
	for i, b := range boards {
		rec.Health = append(rec.Health, b.Health())
		rec.KeepHealth(harness.HealthChange{At: end(rec), Bay: i, Health: rec.Health[i]})
	}
	return err
}

// reserve allocates memory for a whole run: in real time for the longest, so that none is allocated on the way, in
// lockstep for a run of usual length: more is made as it is needed.
func reserve(rec *harness.Record, paced bool) {
	s := &rec.Plan.Setup
	end := min(s.Limit.Seconds(), longest)
	if !paced {
		end = min(end, usual)
		if until, known := s.Until.In(s.Rehearsed); known {
			end = min(end, until.Seconds())
		}
	}
	rec.Reserve(min(int(s.Fastest()*end*1.1), 1<<20))
}

const (
	longest = 600 // s, of a run for which room is made from the start
	usual   = 150 // s, from the pad to the ground; of the shipped flights few take longer
)

// filler is a source that fills in the states of its next tick where they shall be.
type filler interface{ Into(states []sim.State) }

type loop struct {
	src    sim.Source
	filler filler // nil: states are copied
	boards []board.Board
	pacer  Pacer
	paced  bool // in real time, so that lateness counts
	rec    *harness.Record
	outs   []sim.Output
	reply  harness.Reply
}

func (l *loop) fly(ctx context.Context) error {
	for {
		if l.filler != nil {
			l.filler.Into(nextStates(l.rec))
		}
		t, ok := l.src.Step(l.outs)
		if t != nil {
			if err := l.tick(ctx, t); err != nil {
				l.rec.Cause = err.Error()
				return ctx.Err()
			}
		}
		if !ok {
			return nil
		}
	}
}

// finish ends each board's run. A question without an answer by then leaves the run incomplete, because a board that
// went silent just before the end has not flown the whole run.
func (l *loop) finish(ctx context.Context) {
	for i, b := range l.boards {
		l.reply.Reset()
		err := b.Finish(ctx, &l.reply)
		l.gather(i)
		if err != nil && l.rec.Cause == "" {
			l.rec.Cause = fmt.Sprintf("board %s: %v", l.rec.Plan.Boards[i].Role, err)
		}
	}
}

// cause explains an incomplete run that nothing has ended early.
func cause(rec *harness.Record) string {
	return fmt.Sprintf("the run did not get to its planned end (%s) by %s", rec.Plan.Setup.Until, end(rec))
}

// end is the time of the last tick.
func end(rec *harness.Record) sim.Time {
	if n := len(rec.Times); n > 0 {
		return rec.Times[n-1]
	}
	return 0
}

// tick sends each board its frame, collects the replies and adds the tick to the record, even if a board failed in it.
// The lateness of a tick is that of its last frame.
func (l *loop) tick(ctx context.Context, t *sim.Tick) error {
	late, err := l.pacer.Wait(ctx, t.Now)
	if err != nil {
		return fmt.Errorf("bench: interrupted at %s", t.Now)
	}
	l.outs = l.outs[:0]
	for i := 0; i < len(l.boards) && err == nil; i++ {
		if i > 0 && l.paced {
			again, _ := l.pacer.Wait(ctx, t.Now) // its error is the next tick's
			late = max(late, again)
		}
		l.reply.Reset()
		err = l.boards[i].Exchange(ctx, &t.Frames[i], &l.reply)
		l.gather(i)
		if err != nil {
			err = fmt.Errorf("board %s at %s: %w", l.rec.Plan.Boards[i].Role, t.Now, err)
		}
	}
	l.recordFelt(t.Now)
	keep(l.rec, t)
	if l.paced {
		l.rec.Late = append(l.rec.Late, late)
	}
	if why := l.rec.FlawOfLastTick(); why != "" && err == nil {
		err = errors.New(why)
	}
	return err
}

// gather takes a board's reply over into the record, and its edges to the source.
func (l *loop) gather(bay int) {
	if l.reply.Empty() {
		return
	}
	for _, o := range l.reply.Outputs {
		o.Bay = bay
		l.outs = append(l.outs, o.Output)
		l.rec.Outputs = append(l.rec.Outputs, o)
	}
	l.rec.Readings = append(l.rec.Readings, l.reply.Readings...)
	l.rec.Reports = append(l.rec.Reports, l.reply.Reports...)
	l.rec.Logs = append(l.rec.Logs, l.reply.Logs...)
	l.rec.NMEA = append(l.rec.NMEA, l.reply.NMEA...)
	for _, x := range l.reply.Changes {
		x.Bay = bay
		l.rec.KeepHealth(x)
	}
}

// recordFelt keeps what the source is given at its next step.
func (l *loop) recordFelt(now sim.Time) {
	for _, o := range l.outs {
		o.At = now
		l.rec.FlightOutputs = append(l.rec.FlightOutputs, o)
	}
}

func keep(rec *harness.Record, t *sim.Tick) {
	rec.Times = append(rec.Times, t.Now)
	rec.Active = append(rec.Active, t.Active)
	if next := nextStates(rec); len(next) > 0 && &next[0] == &t.States[0] {
		rec.States = rec.States[:len(rec.States)+len(next)]
	} else {
		rec.States = append(rec.States, t.States...)
	}
	rec.Frames = append(rec.Frames, t.Frames...)
	if len(t.Injected)+len(t.Events) > 0 {
		rec.Injected = append(rec.Injected, t.Injected...)
		rec.Events = append(rec.Events, t.Events...)
	}
	if len(t.Warnings)+len(rec.Warnings) > 0 {
		rec.Warnings = append(rec.Warnings[:0], t.Warnings...)
	}
}

// nextStates is where the states of the next tick go.
func nextStates(rec *harness.Record) []sim.State {
	n, stages := len(rec.States), len(rec.Plan.Setup.Vehicle.Stages)
	if cap(rec.States)-n < stages {
		rec.States = slices.Grow(rec.States, stages)
	}
	return rec.States[n : n+stages : n+stages]
}
