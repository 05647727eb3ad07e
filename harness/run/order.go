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
func inOrder(ctx context.Context, n, jobs int, alone bool, spare *Spares, do func(ctx context.Context, i int, rec *harness.Record), done func(i int, rec *harness.Record) error) error {
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

// Spares are records whose memory can be used again, by whoever flies on one bench or on several: growing one anew for each
// few flights of a queue takes a quarter of their time.
type Spares struct {
	mu   sync.Mutex
	list []*harness.Record // the last left comes first: a processor may still have it in its cache
}

// mostSpares is how many are kept; further ones are left to the garbage collector.
const mostSpares = 32

// take gives a spare record, or a new one.
func (s *Spares) take() *harness.Record {
	s.mu.Lock()
	defer s.mu.Unlock()
	if n := len(s.list); n > 0 {
		rec := s.list[n-1]
		s.list = s.list[:n-1]
		return rec
	}
	return new(harness.Record)
}

// leave gives a record back.
func (s *Spares) leave(rec *harness.Record) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.list) < mostSpares {
		s.list = append(s.list, rec)
	}
}
