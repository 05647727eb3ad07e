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

// inOrder calls do for each i below n, for up to jobs of them at a time, and done with what came out, in order. It
// takes no more memory for many than for a few. alone: no do begins before done has dealt with the one before.
func inOrder(ctx context.Context, n, jobs int, alone bool, do func(ctx context.Context, i int, rec *harness.Record), done func(i int, rec *harness.Record) error) error {
	jobs = max(jobs, 1)
	inner, stop := context.WithCancel(ctx)
	next := make(chan work)
	ordered := make(chan work, jobs) // a worker holds one until done is at work on it
	spare := make(chan *harness.Record, jobs+1)
	dealt := make(chan struct{}, jobs)
	var workers sync.WaitGroup
	defer workers.Wait()
	defer stop()
	workers.Go(func() {
		defer close(next)
		for i := range n {
			w := work{i, make(chan *harness.Record)}
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
				rec := used(spare)
				do(inner, w.i, rec)
				select {
				case w.record <- rec:
				case <-inner.Done():
				}
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
		spare <- rec
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

// used gives a record whose memory can be used again, or a new one.
func used(spare <-chan *harness.Record) *harness.Record {
	select {
	case rec := <-spare:
		return rec
	default:
		return new(harness.Record)
	}
}
