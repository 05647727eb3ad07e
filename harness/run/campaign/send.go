package campaign

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"drystage/harness"
	"drystage/harness/files/record"
)

// NoWorkerError says that nobody at the queue flew a campaign for so long.
type NoWorkerError struct {
	Need  string
	After time.Duration
}

// Error gives its text.
func (e NoWorkerError) Error() string {
	return fmt.Sprintf("no worker of this version at the queue %s for %v", neededText(e.Need), e.After)
}

func neededText(need string) string {
	if bench, ok := strings.CutPrefix(need, "bench-"); ok {
		return "offers the bench " + bench
	}
	return "flies built-in boards"
}

// Sender sends campaigns and gathers their results.
type Sender struct {
	Queue *Queue
	Wait  time.Duration // without any worker that could fly it, a campaign ends after this; 0: never
	Notes io.Writer     // for people
}

// Fly sends a campaign, and calls done with what came of each flight, one call at a time and in the order of the
// flights. Results that lie at the queue from an earlier time are used. Fly stops early when ctx is done or done returns an
// error, takes back what was not handed out, and returns that error.
func (s *Sender) Fly(ctx context.Context, b *Bundle, done func(i int, f *Flown) error) error {
	packed, name, err := b.encode()
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	if err := s.publish(ctx, packed, name); err != nil {
		return err
	}
	notes, err := s.Queue.conn.Subscribe(noteSubject+"."+name, s.told())
	if err != nil {
		return err
	}
	defer notes.Unsubscribe()
	there, err := s.earlier(ctx, name)
	if err != nil {
		return err
	}
	if len(there) > 0 {
		s.note("%d of %d batches were flown before", len(there), b.batches())
	}
	defer s.takeBack(b.need(), name)
	go func() {
		if err := s.handOut(ctx, b, name, there); err != nil {
			stop(err)
		}
	}()
	go s.watchWorkers(ctx, b, stop)
	err = s.gather(ctx, b, name, done)
	if cause := context.Cause(ctx); err != nil && cause != nil {
		return cause
	}
	return err
}

// publish puts the bundle where workers find it.
func (s *Sender) publish(ctx context.Context, packed []byte, name string) error {
	return soon(ctx, func() error {
		store, err := s.Queue.js.ObjectStore(ctx, bundleStore)
		if err != nil {
			return err
		}
		_, err = store.PutBytes(ctx, name, packed)
		return err
	})
}

// earlier tells which batches have a result.
func (s *Sender) earlier(ctx context.Context, name string) (there map[string]uint64, err error) {
	err = soon(ctx, func() error {
		stream, err := s.Queue.js.Stream(ctx, resultStream)
		if err != nil {
			return err
		}
		info, err := stream.Info(ctx, jetstream.WithSubjectFilter(resultSubject+"."+name+".>"))
		if err == nil {
			there = info.State.Subjects
		}
		return err
	})
	return there, err
}

// handOut puts the batches without a result into the work queue.
func (s *Sender) handOut(ctx context.Context, b *Bundle, name string, there map[string]uint64) error {
	for i := range b.batches() {
		if _, ok := there[resultOf(name, i)]; ok {
			continue
		}
		err := again(ctx, func() error {
			_, err := s.Queue.js.Publish(ctx, workOf(b.need(), name), []byte(strconv.Itoa(i)))
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// takeBack removes what nobody has taken yet.
func (s *Sender) takeBack(need, name string) {
	ctx, stop := context.WithTimeout(context.Background(), 2*time.Second)
	defer stop()
	if stream, err := s.Queue.js.Stream(ctx, workStream); err == nil {
		_ = stream.Purge(ctx, jetstream.WithPurgeSubject(workOf(need, name)))
	}
}

// gather receives results and passes them on in order.
func (s *Sender) gather(ctx context.Context, b *Bundle, name string, done func(i int, f *Flown) error) error {
	var messages jetstream.MessagesContext
	err := soon(ctx, func() error {
		in, err := s.Queue.js.OrderedConsumer(ctx, resultStream, jetstream.OrderedConsumerConfig{
			FilterSubjects: []string{resultSubject + "." + name + ".>"},
		})
		if err == nil {
			messages, err = in.Messages()
		}
		return err
	})
	if err != nil {
		return err
	}
	go func() {
		<-ctx.Done()
		messages.Stop()
	}()
	waiting := map[int]*result{}
	for next := 0; next < b.batches(); {
		m, err := messages.Next()
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if errors.Is(err, jetstream.ErrMsgIteratorClosed) {
				return err
			}
			continue // the server is away; the consumer comes back by itself
		}
		batch, r, err := b.read(m)
		if err != nil {
			return err
		}
		if _, twice := waiting[batch]; batch < next || twice {
			continue
		}
		waiting[batch] = r
		for ; waiting[next] != nil; next++ {
			from, _ := b.flights(next)
			for k := range waiting[next].Flown {
				if err := done(from+k, &waiting[next].Flown[k]); err != nil {
					return err
				}
			}
			delete(waiting, next)
		}
	}
	return nil
}

// read reads a result.
func (b *Bundle) read(m jetstream.Msg) (batch int, r *result, err error) {
	batch, err = strconv.Atoi(m.Subject()[strings.LastIndexByte(m.Subject(), '.')+1:])
	if err != nil || batch < 0 || batch >= b.batches() {
		return 0, nil, fmt.Errorf("found a result of the batch %s: wanted 0 to %d", harness.Printable(m.Subject()), b.batches()-1)
	}
	from, to := b.flights(batch)
	got, err := decodeResult(m.Data(), to-from)
	if err != nil {
		return 0, nil, fmt.Errorf("found a wrong result of flights %d to %d: %w", from+1, to, err)
	}
	if got.Refused != "" {
		return 0, nil, fmt.Errorf("worker %s refused the campaign: %s", harness.Printable(got.Worker), harness.Printable(got.Refused))
	}
	return batch, &got, nil
}

// watchWorkers tells when nobody is there to fly, and ends the campaign if that goes on.
func (s *Sender) watchWorkers(ctx context.Context, b *Bundle, stop context.CancelCauseFunc) {
	seen, told := time.Now(), false
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(time.Second):
		}
		all, err := s.Queue.Workers(ctx)
		if err != nil {
			continue // the server is away
		}
		for i := range all {
			if all[i].flies(b) {
				seen, told = time.Now(), false
			}
		}
		gone := time.Since(seen)
		if s.Wait > 0 && gone > s.Wait {
			stop(NoWorkerError{b.need(), s.Wait})
			return
		}
		if gone > 3*time.Second && !told {
			told = true
			s.note("waiting: no worker of this version at the queue %s (drystage worker)", neededText(b.need()))
		}
	}
}

// told passes on what workers say of the campaign, each thing once.
func (s *Sender) told() func(m *nats.Msg) {
	said := map[string]bool{}
	return func(m *nats.Msg) {
		text := string(m.Data[:min(len(m.Data), 500)])
		if !said[text] && len(said) < 100 {
			said[text] = true
			s.note("%s", text)
		}
	}
}

func (s *Sender) note(format string, a ...any) {
	fmt.Fprintln(s.Notes, harness.Errorf(format, a...))
}

// Record fetches the record of a flight.
func (s *Sender) Record(ctx context.Context, f *Flown) (rec harness.Record, err error) {
	store, err := s.Queue.js.ObjectStore(ctx, recordStore)
	if err != nil {
		return rec, err
	}
	err = again(ctx, func() error {
		b, err := store.GetBytes(ctx, f.Record)
		if errors.Is(err, jetstream.ErrObjectNotFound) {
			return nil
		}
		if err == nil {
			rec, err = record.Read(bytes.NewReader(b))
		}
		return err
	})
	if err == nil && rec.Plan.File == "" {
		err = fmt.Errorf("the record %s is not at the queue any more", harness.Printable(f.Record))
	}
	return rec, err
}
