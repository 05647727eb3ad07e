package campaign

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"drystage/harness"
	"drystage/harness/files/record"
	"drystage/harness/judge/dispersion"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
)

// Worker flies the batches of a queue.
type Worker struct {
	Queue *Queue
	Name  string
	Jobs  int // batches at once, for built-in boards
	// Bench is the name of the bench that it offers; empty: it flies built-in boards. Options are those of the bench.
	Bench   string
	Options run.Options
	Able    Able      // of the bench
	Notes   io.Writer // for people

	// standIn is called in place of flying a batch, where the queue is measured; nil: flights are flown.
	standIn func(flights int) []Flown

	spares run.Spares // of all campaigns

	mu     sync.Mutex
	opened []*opened // the campaigns of late, the latest last
	named  []string  // what the boards of the bench called themselves
}

// opened is a campaign that is ready to fly.
type opened struct {
	name    string
	bundle  *Bundle
	plans   []harness.Plan
	bench   *run.Bench
	refused string // why it can't be flown
	other   bool   // it is of another version, and another worker may fly it
	flying  sync.WaitGroup
}

// keptOpen is how many campaigns a worker keeps ready.
const keptOpen = 4

// Work flies until ctx is done, and then finishes no batch: the queue hands it out again.
func (w *Worker) Work(ctx context.Context) error {
	consumer, err := w.Queue.js.CreateOrUpdateConsumer(ctx, workStream, w.consumer())
	if err != nil {
		if ctx.Err() != nil {
			return nil // told to end before it began
		}
		return err
	}
	jobs := max(w.Jobs, 1)
	if w.Bench != "" {
		jobs = 1
	}
	var all sync.WaitGroup
	all.Go(func() { w.announce(ctx) })
	for range jobs {
		all.Go(func() { w.take(ctx, consumer) })
	}
	all.Wait()
	for _, c := range w.opened {
		c.close(w)
	}
	return nil
}

// consumer is what hands out the batches that this worker can fly: of a bench one at a time, whoever offers it.
func (w *Worker) consumer() jetstream.ConsumerConfig {
	need, most := anyWorker, 10_000
	if w.Bench != "" {
		need, most = "bench-"+w.Bench, 1
	}
	return jetstream.ConsumerConfig{
		Durable: need, FilterSubject: workSubject + "." + need + ".>", AckPolicy: jetstream.AckExplicitPolicy,
		AckWait: lease, MaxAckPending: most, MaxDeliver: -1,
	}
}

// take takes batches until ctx is done.
func (w *Worker) take(ctx context.Context, from jetstream.Consumer) {
	for ctx.Err() == nil {
		a, stop := context.WithTimeout(ctx, 5*time.Second)
		m, err := from.Next(jetstream.FetchContext(a))
		stop()
		if err != nil {
			select {
			case <-ctx.Done():
			case <-time.After(50 * time.Millisecond): // nothing to do, or the server is away
			}
			continue
		}
		w.handle(ctx, m)
	}
}

// handle flies one batch and sends its result, and gives signs of life meanwhile.
func (w *Worker) handle(ctx context.Context, m jetstream.Msg) {
	words := strings.Split(m.Subject(), ".")
	name := words[len(words)-1]
	batch, err := strconv.Atoi(string(m.Data()))
	if err != nil {
		w.note("refused: a message that is no batch of a campaign")
		_ = m.TermWithReason("no number of a batch")
		return
	}
	alive, stop := context.WithCancel(ctx)
	defer stop()
	go signs(alive, m)
	c, err := w.open(ctx, name)
	if err != nil { // the server is away
		_ = m.Nak()
		return
	}
	defer c.flying.Done()
	if c.other {
		w.tell(name, c.refused)
		_ = m.NakWithDelay(time.Second) // for a worker of the right version
		return
	}
	r := result{Worker: w.Name, Refused: c.refused}
	if c.refused == "" {
		if batch < 0 || batch >= c.bundle.batches() {
			w.note("refused: batch %d of a campaign of %d", batch, c.bundle.batches())
			_ = m.TermWithReason("no such batch")
			return
		}
		if r.Flown, err = w.fly(ctx, c, batch, deliveries(m) > 1 && !c.bundle.GiveBack); err != nil {
			if ctx.Err() == nil {
				w.note("batch %d: %v", batch, err)
			}
			_ = m.Nak()
			return
		}
	}
	if w.send(ctx, name, batch, &r) == nil {
		_ = again(ctx, func() error { return m.DoubleAck(ctx) })
	}
}

// deliveries is how often a batch was handed out.
func deliveries(m jetstream.Msg) uint64 {
	if meta, err := m.Metadata(); err == nil {
		return meta.NumDelivered
	}
	return 1
}

// signs tells the queue that the batch is still in work.
func signs(ctx context.Context, m jetstream.Msg) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-time.After(signEach):
			_ = m.InProgress()
		}
	}
}

// send sends the result of a batch.
func (w *Worker) send(ctx context.Context, name string, batch int, r *result) error {
	b, err := r.encode()
	if err != nil {
		return err
	}
	subject := resultOf(name, batch)
	return again(ctx, func() error {
		_, err := w.Queue.js.Publish(ctx, subject, b, jetstream.WithMsgID(subject))
		return err
	})
}

// fly flies a batch. broken: an earlier attempt ended with its bench, and the campaign doesn't want another one.
func (w *Worker) fly(ctx context.Context, c *opened, batch int, broken bool) ([]Flown, error) {
	from, to := c.bundle.flights(batch)
	out := make([]Flown, to-from)
	if w.standIn != nil {
		return w.standIn(to - from), nil
	}
	plans := make([]harness.Plan, to-from)
	for k := range plans {
		plans[k] = c.bundle.plan(c.plans, from+k)
	}
	if broken {
		for k := range plans {
			rec := harness.Record{Plan: plans[k], Made: run.Maker(), Cause: "not flown to its end: the bench went away in the middle"}
			out[k].Verdict = verdict.Judge(&rec)
			if err := w.flown(ctx, c, from+k, &rec, &out[k]); err != nil {
				return nil, err
			}
		}
		return out, nil
	}
	err := Judged(ctx, c.bench, len(plans), func(k int) run.Flight { return run.Flight{Plan: &plans[k]} },
		func(k int, rec *harness.Record, v harness.Verdict) error {
			out[k].Verdict = v
			return w.flown(ctx, c, from+k, rec, &out[k])
		})
	return out, err
}

// flown keeps what came of a flight.
func (w *Worker) flown(ctx context.Context, c *opened, i int, rec *harness.Record, out *Flown) error {
	out.Landed = dispersion.Places(rec)
	w.meet(rec)
	if c.bundle.Records == NoRecords {
		return nil
	}
	var b bytes.Buffer
	if err := record.Write(&b, rec); err != nil {
		return err
	}
	out.Record = recordName(c.name, i)
	return again(ctx, func() error {
		store, err := w.Queue.js.ObjectStore(ctx, recordStore)
		if err == nil {
			_, err = store.PutBytes(ctx, out.Record, b.Bytes())
		}
		return err
	})
}

// open gives a campaign ready to fly, from those of late or from the queue. The caller says when it is done with it.
func (w *Worker) open(ctx context.Context, name string) (*opened, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.opened {
		if c.name == name {
			c.flying.Add(1)
			return c, nil
		}
	}
	packed, refused, err := w.bundle(ctx, name)
	if err != nil {
		return nil, err
	}
	c := &opened{name: name, refused: refused}
	if refused == "" {
		w.ready(ctx, c, packed)
	}
	if c.refused != "" {
		w.note("refused campaign %.12s: %s", name, c.refused)
	}
	w.opened = append(w.opened, c)
	if len(w.opened) > keptOpen {
		old := w.opened[0]
		w.opened = w.opened[1:]
		go old.close(w)
	}
	c.flying.Add(1)
	return c, nil
}

// bundle fetches the bytes of a campaign. refused says why they can't be had.
func (w *Worker) bundle(ctx context.Context, name string) (packed []byte, refused string, err error) {
	store, err := w.Queue.js.ObjectStore(ctx, bundleStore)
	if err != nil {
		return nil, "", err
	}
	info, err := store.GetInfo(ctx, name)
	switch {
	case errors.Is(err, jetstream.ErrObjectNotFound):
		return nil, "it isn't at the queue", nil
	case err != nil:
		return nil, "", err
	case info.Size > maxPacked:
		return nil, fmt.Sprintf("it has %d bytes: wanted at most %d", info.Size, maxPacked), nil
	}
	packed, err = store.GetBytes(ctx, name)
	return packed, "", err
}

// ready makes a campaign ready to fly, or says why it can't be.
func (w *Worker) ready(ctx context.Context, c *opened, packed []byte) {
	var err error
	if c.bundle, c.plans, err = decode(packed, c.name); err != nil {
		c.refused = err.Error()
		c.other = errors.As(err, new(otherProgramError))
		return
	}
	if c.bundle.Bench != w.Bench {
		c.refused = "it is for another bench"
		return
	}
	if w.Able.RealTime && !c.bundle.RealTime {
		c.refused = "the boards of this bench fly in real time only: say --real-time"
		return
	}
	if c.bench, err = run.Open(ctx, w.options(c.bundle), c.plans); err != nil {
		c.refused = err.Error()
	}
}

// options are those with which a campaign is flown. All campaigns share the memory of records, which is large.
func (w *Worker) options(b *Bundle) run.Options {
	opt := w.Options
	if w.Bench == "" {
		opt = run.Options{Boards: b.Boards, Jobs: 1}
	}
	opt.Spares, opt.Alone = &w.spares, true
	opt.Timeout, opt.AnswerLimit = b.Timeout, b.AnswerLimit
	opt.RealTime, opt.LateLimit = b.RealTime, b.LateLimit
	return opt
}

// close closes a campaign's boards once nobody flies them.
func (c *opened) close(w *Worker) {
	c.flying.Wait()
	if c.bench == nil {
		return
	}
	if err := c.bench.Close(); err != nil {
		w.note("%v", err)
	}
}

// tell tells the sender of a campaign something.
func (w *Worker) tell(campaign, text string) {
	_ = w.Queue.conn.Publish(noteSubject+"."+campaign, []byte(fmt.Sprintf("worker %s can't fly it: %s", w.Name, text)))
}

func (w *Worker) note(format string, a ...any) {
	fmt.Fprintln(w.Notes, harness.Errorf(format, a...))
}
