package run

import (
	"context"
	"fmt"

	"drystage/harness"
	"drystage/harness/rig"
	"drystage/harness/run/loop"
	"drystage/sim"
	"drystage/sim/world"
)

// Flight is one flight to fly.
type Flight struct {
	// Plan is rehearsed when it is its turn to fly, unless it has been.
	Plan *harness.Plan
	// Source is flown in place of the simulated world or the plan's log, without a rehearsal; nil: none.
	Source sim.Source
	// Flip is a branch that is turned around in the flash of emulated chips; the zero value is none.
	Flip Flip
	// Over is called with the record on the goroutine that has flown it, while others fly, before the record is handed
	// over in order; nil: nothing is to be done.
	Over func(rec *harness.Record)
}

// Flip names a conditional branch of a firmware by its address in bytes.
type Flip struct {
	Firmware string // the ELF file, as the boards' addresses name it
	Address  uint32
}

// Fly flies plans; see FlyEach.
func (b *Bench) Fly(ctx context.Context, plans []harness.Plan, done func(i int, rec *harness.Record) error) error {
	return b.FlyEach(ctx, len(plans), func(i int) Flight { return Flight{Plan: &plans[i]} }, done)
}

// FlyEach flies n flights, as many at a time as the bench has jobs, and calls done with each record, one call at a
// time and in the order of the flights. A record is done's until it returns; then its memory serves another
// flight. next gives flight i when it is its turn, from several goroutines, so that many flights take no more
// memory than a few. In real time no flight begins while done is at work.
//
// A board that can't be opened gives an incomplete record that says so. FlyEach stops early when ctx is done or
// done returns an error, and returns that error; a flight that was cut off by ctx is not handed over. Then boards may
// still be closing, for which Close waits.
func (b *Bench) FlyEach(ctx context.Context, n int, next func(i int) Flight, done func(i int, rec *harness.Record) error) error {
	if b.stale != "" {
		fmt.Fprintln(b.opt.Notes, b.stale)
		b.stale = ""
	}
	jobs := b.opt.Jobs
	if b.opt.RealTime {
		jobs = 1
	}
	return inOrder(ctx, n, jobs, b.opt.RealTime || b.opt.Alone, b.spare, func(ctx context.Context, i int, rec *harness.Record) {
		f := next(i)
		b.fly(ctx, f, rec)
		if f.Over != nil {
			f.Over(rec)
		}
	}, done)
}

// fly flies one flight and fills its record.
func (b *Bench) fly(ctx context.Context, f Flight, rec *harness.Record) {
	if f.Plan.Setup.Rehearsed == nil && f.Source == nil {
		Rehearse(&f.Plan.Setup)
	}
	rec.Plan, rec.Made = *f.Plan, b.made(&f)
	rec.Reset()
	pacer, clock := b.pace(&f.Plan.Setup)
	on, err := b.loop(ctx, f, pacer, clock, rec)
	if err != nil && rec.Cause == "" {
		rec.Cause = err.Error()
	}
	for _, x := range on {
		x.AddPinTimes(rec)
	}
}

// loop opens the boards, closes the loop and closes the boards again. It gives the boards on the rig. When ctx ends it
// doesn't wait for boards to close: the program has a second to tell what was flown, and a board may take longer.
func (b *Bench) loop(ctx context.Context, f Flight, pacer loop.Pacer, clock func() sim.Time, rec *harness.Record) ([]*rig.Board, error) {
	boards, err := b.openBoards(ctx, &f, clock)
	var on []*rig.Board
	if err == nil {
		on, err = b.onRig(f.Plan, boards, clock)
	}
	if err != nil {
		rec.Health = make([]harness.Health, len(rec.Plan.Setup.Bays))
		return nil, err
	}
	boards = b.receive(f.Plan, boards)
	err = loop.Run(ctx, b.watched(rec, b.source(f, &rec.Plan.Setup)), boards, pacer, rec)
	if ctx.Err() != nil {
		b.closing.Go(func() { closeAll(boards) })
		return nil, err
	}
	closeAll(boards)
	return on, err
}

// watched is a source that somebody watches, if somebody does.
func (b *Bench) watched(rec *harness.Record, src sim.Source) sim.Source {
	if b.opt.Watch == nil {
		return src
	}
	return b.opt.Watch(rec, src)
}

// source is the simulated world, unless a log or another source is flown in its place.
func (b *Bench) source(f Flight, s *sim.Setup) (src sim.Source) {
	switch played := b.played[f.Plan.File]; {
	case f.Source != nil:
		src = f.Source
	case played != nil:
		src = played(s)
	default:
		src = world.New(s)
	}
	if b.Rig == nil {
		return src
	}
	return b.Rig.Breakwires(src)
}

// pace gives what paces one flight, and the clock of the run, which is nil in lockstep.
func (b *Bench) pace(s *sim.Setup) (loop.Pacer, func() sim.Time) {
	if !b.opt.RealTime {
		return loop.Lockstep{}, nil
	}
	limit := sim.Time(b.opt.LateLimit)
	if limit == 0 {
		limit = period(s)
	}
	p := loop.NewRealTime(loop.RealTimeOptions{Limit: limit})
	return p, p.Now
}

// period is that of the fastest sensor of all boards: a frame that leaves later than that comes after the time of
// the next one. Lateness below it adds to the uncertainty of every output that it may have held up.
func period(s *sim.Setup) sim.Time {
	fastest := s.Fastest()
	if !(fastest > 0) {
		return loop.DefaultLimit
	}
	return sim.Seconds(1 / fastest)
}

// address is where the board of a role is in a flight.
func (b *Bench) address(f *Flight, role string) string {
	at := b.boards.of(role)
	if f.Flip.Firmware != "" && Firmware(at) == f.Flip.Firmware {
		at += fmt.Sprintf("&flip=0x%x", f.Flip.Address)
	}
	return at
}

// made says what makes a flight's record.
func (b *Bench) made(f *Flight) harness.Maker {
	m := Maker()
	m.Rig = b.opt.Rig
	for _, x := range f.Plan.Boards {
		m.Boards = append(m.Boards, known(b.address(f, x.Role)))
	}
	return m
}
