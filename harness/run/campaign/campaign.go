// Package campaign flies many plans, several at a time, and hands their records over in order. It
// never judges, prints or opens a file; where sources and boards come from is the caller's.
package campaign

import (
	"context"
	"sync"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/run/loop"
	"drystage/sim"
)

// Flight is one plan to fly.
type Flight struct {
	Plan harness.Plan
	// Draw, if there is one, gives the plan when it is its turn to fly, in place of Plan: many flights that
	// differ need not all be there at once. It is called before Open and Source, by the same worker.
	Draw   func() harness.Plan
	Made   harness.Maker
	Pacer  loop.Pacer
	Source func(*sim.Setup) sim.Source
	// Open gives one board per bay of the plan. They are closed when the flight is over.
	Open func() ([]board.Board, error)
}

// Fly flies the flights, up to jobs of them at a time, and calls done with each record, one call at
// a time and in the order of the flights; a record is done's until it returns, then its memory serves
// another flight. In real time a worker begins no other flight meanwhile: what done does would keep
// it from being in time. A board that can't be opened gives an incomplete record that says so. Fly stops early when ctx is done or done returns an error, and returns that error.
func Fly(ctx context.Context, flights []Flight, jobs int, done func(i int, rec *harness.Record) error) error {
	ctx, stop := context.WithCancel(ctx)
	next := make(chan int)
	spare := make(chan *harness.Record, len(flights))
	dealt := make(chan struct{}, len(flights))
	results := make([]chan *harness.Record, len(flights))
	for i := range results {
		results[i] = make(chan *harness.Record)
	}
	var workers sync.WaitGroup
	defer workers.Wait()
	defer stop()
	workers.Go(func() {
		defer close(next)
		for i := range flights {
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	})
	for range max(jobs, 1) {
		workers.Go(func() {
			for i := range next {
				select {
				case results[i] <- flights[i].fly(ctx, used(spare)):
				case <-ctx.Done():
				}
				if flights[i].Pacer.Pace().RealTime {
					select {
					case <-dealt:
					case <-ctx.Done():
					}
				}
			}
		})
	}
	for i := range flights {
		select {
		case rec := <-results[i]:
			if err := done(i, rec); err != nil {
				return err
			}
			spare <- rec
			if flights[i].Pacer.Pace().RealTime {
				dealt <- struct{}{}
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// used gives a record whose memory can be used again, or a new one.
func used(spare <-chan *harness.Record) *harness.Record {
	select {
	case rec := <-spare:
		return rec
	default:
		return new(harness.Record)
	}
}

func (f *Flight) fly(ctx context.Context, rec *harness.Record) *harness.Record {
	rec.Plan, rec.Made = f.Plan, f.Made
	rec.Reset()
	if ctx.Err() == nil && f.Draw != nil {
		rec.Plan = f.Draw()
	}
	if ctx.Err() != nil {
		rec.Cause = "campaign: interrupted before it began"
		return rec
	}
	boards, err := f.Open()
	if err != nil {
		rec.Cause = err.Error()
		rec.Health = make([]harness.Health, len(rec.Plan.Setup.Bays))
		return rec
	}
	defer func() {
		for _, b := range boards {
			b.Close()
		}
	}()
	if err := loop.Run(ctx, f.Source(&rec.Plan.Setup), boards, f.Pacer, rec); err != nil && rec.Cause == "" {
		rec.Cause = err.Error()
	}
	return rec
}
