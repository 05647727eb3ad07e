package run

import (
	"context"
	"sync"

	"drystage/harness"
)

// work is one piece of work for a worker; its result is handed over on record.
type work struct {
	i      int
	record chan *harness.Record
}

// inOrder calls do for each i below n, for up to jobs of them at a time, and done with what came out, in order. A worker
// whose work ends before that of an earlier one goes on with the next; no more than jobs and two records are in use, so
// many take no more memory than a few. alone: no do begins before done has dealt with the one before.
func inOrder(ctx context.Context, n, jobs int, alone bool, spare spares, do func(ctx context.Context, i int, rec *harness.Record), done func(i int, rec *harness.Record) error) error {
	jobs = max(jobs, 1)
	inner, stop := context.WithCancel(ctx)
	next := make(chan work)
	ordered := make(chan work, jobs) // beside these done waits for one, and one is about to be put in
	dealt := make(chan struct{}, jobs)
	var workers sync.WaitGroup
	defer workers.Wait()
	defer stop()
	workers.Go(func() {
		defer close(next)
		for i := range n {
			w := work{i, make(chan *harness.Record, 1)}
			select {
			case next <- w:
			case <-inner.Done():
				return
			}
			select {
			case ordered <- w:
			case <-inner.Done():
				return
			}
		}
	})
	for range jobs {
		workers.Go(func() {
			for w := range next {
				if inner.Err() != nil {
					return
				}
				rec := spare.take()
				do(inner, w.i, rec)
				w.record <- rec
				if alone {
					select {
					case <-dealt:
					case <-inner.Done():
					}
				}
			}
		})
	}
	for range n {
		rec, i, err := take(ctx, ordered)
		if err == nil {
			err = done(i, rec)
		}
		if err != nil {
			return err
		}
		spare.leave(rec)
		if alone {
			dealt <- struct{}{}
		}
	}
	return nil
}

// take gives the next record in order. One that was cut off by us tells nothing.
func take(ctx context.Context, ordered <-chan work) (*harness.Record, int, error) {
	select {
	case w := <-ordered:
		select {
		case rec := <-w.record:
			if !rec.Complete() && ctx.Err() != nil {
				return nil, 0, ctx.Err()
			}
			return rec, w.i, nil
		case <-ctx.Done():
		}
	case <-ctx.Done():
	}
	return nil, 0, ctx.Err()
}

// spares are records whose memory can be used again, by whoever flies on a bench: growing one anew for each few flights of a
// queue takes a quarter of their time.
type spares chan *harness.Record

// mostSpares is how many are kept; further ones are left to the garbage collector.
const mostSpares = 32

func newSpares() spares { return make(spares, mostSpares) }

// take gives a spare record, or a new one.
func (s spares) take() *harness.Record {
	select {
	case rec := <-s:
		return rec
	default:
		return new(harness.Record)
	}
}

// leave gives a record back.
func (s spares) leave(rec *harness.Record) {
	select {
	case s <- rec:
	default:
	}
}
