package campaign

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"net"
	"os"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/record"
	"drystage/harness/files/scenario"
	"drystage/harness/run"
	"drystage/scenarios"
)

const short = `drystage: scenario
like: nominal.yaml
title: Short
until: booster.burnout + 0.2 s
expect:
  - {never: sustainer.main}
vary:
  - {of: wind.speed, between: [1 m/s, 3 m/s]}
`

// shortPlan is a plan of a second's flight.
func shortPlan(t testing.TB) harness.Plan {
	files := fstest.MapFS{"short.yaml": {Data: []byte(short)}}
	require.NoError(t, fs.WalkDir(scenarios.Files, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(scenarios.Files, name)
		files[name] = &fstest.MapFile{Data: text}
		return err
	}))
	p, problems := scenario.Load(files, "short.yaml")
	require.Empty(t, problems)
	return p
}

// shortBundle is a campaign of n such flights.
func shortBundle(t testing.TB, n int) *Bundle {
	p := shortPlan(t)
	s, err := SourceOf(&p)
	require.NoError(t, err)
	return &Bundle{Made: run.Maker(), Plans: []Source{s}, Flights: n, Drawn: true, Batch: 3, GiveBack: true, Timeout: time.Minute}
}

// here flies a campaign without a queue.
func here(t *testing.T, b *Bundle) (out []harness.Verdict) {
	plans, err := b.plans()
	require.NoError(t, err)
	bench, err := run.Open(t.Context(), run.Options{Boards: b.Boards, Jobs: 1}, plans)
	require.NoError(t, err)
	defer bench.Close()
	require.NoError(t, Judged(t.Context(), bench, b.All(), func(i int) run.Flight {
		p := b.plan(plans, i)
		return run.Flight{Plan: &p}
	}, func(_ int, _ *harness.Record, v harness.Verdict) error {
		out = append(out, v)
		return nil
	}))
	return out
}

// text is a verdict to the last bit.
func text(t *testing.T, v any) string {
	b, err := (&result{Flown: []Flown{{Verdict: v.(harness.Verdict)}}}).encode()
	require.NoError(t, err)
	return string(b)
}

func same(t *testing.T, want, got []harness.Verdict) {
	require.Len(t, got, len(want))
	for i := range want {
		require.Equal(t, text(t, want[i]), text(t, got[i]), "flight %d", i+1)
	}
}

// notes gathers what is told to people.
type notes struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (n *notes) Write(p []byte) (int, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.b.Write(p)
}

func (n *notes) String() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.b.String()
}

// send sends a campaign and gives its verdicts.
func send(ctx context.Context, q *Queue, b *Bundle, n *notes) (out []harness.Verdict, err error) {
	err = (&Sender{Queue: q, Notes: n}).Fly(ctx, b, func(i int, f *Flown) error {
		if i != len(out) {
			return errors.New("out of order")
		}
		out = append(out, f.Verdict)
		return nil
	})
	return out, err
}

func TestResultsAreTheSameByQueue(t *testing.T) {
	s := startServer(t)
	b := shortBundle(t, 20)
	want := here(t, b)
	startWorker(t, &Worker{Queue: s.connect(t), Name: "one", Jobs: 1})
	startWorker(t, &Worker{Queue: s.connect(t), Name: "two", Jobs: 2})
	got, err := send(t.Context(), s.connect(t), b, new(notes))
	require.NoError(t, err)
	same(t, want, got)
}

func TestEarlierResultsAreUsed(t *testing.T) {
	s := startServer(t)
	b := shortBundle(t, 8)
	stop := startWorker(t, &Worker{Queue: s.connect(t), Name: "one", Jobs: 1})
	first, err := send(t.Context(), s.connect(t), b, new(notes))
	require.NoError(t, err)
	stop()
	var n notes
	again, err := send(t.Context(), s.connect(t), b, &n) // nobody is there
	require.NoError(t, err)
	same(t, first, again)
	assert.Contains(t, n.String(), "3 of 3 batches were flown before")
}

func TestASecondResultIsDropped(t *testing.T) {
	s := startServer(t)
	b := shortBundle(t, 6)
	want := here(t, b)
	q := s.connect(t)
	packed, name, err := b.encode()
	require.NoError(t, err)
	require.NoError(t, (&Sender{Queue: q}).publish(t.Context(), packed, name))
	for k := range 2 { // as of a worker that flew a batch whose lease was over; past the server's own look at doubles
		r := result{Worker: "late", Flown: make([]Flown, 3)}
		for i := range r.Flown {
			r.Flown[i].Verdict = want[i]
		}
		if k == 1 {
			r.Flown[0].Verdict.Title = "counted twice"
		}
		body, err := r.encode()
		require.NoError(t, err)
		_, err = q.js.Publish(t.Context(), resultOf(name, 0), body)
		require.NoError(t, err)
	}
	startWorker(t, &Worker{Queue: s.connect(t), Name: "one", Jobs: 1})
	got, err := send(t.Context(), q, b, new(notes))
	require.NoError(t, err)
	same(t, want, got)
}

// The campaign of another version is left for a worker of that version, also when its bundle has keys that this one doesn't know, or
// files that it can't read.
func TestAnotherVersionIsRefused(t *testing.T) {
	s := startServer(t)
	startWorker(t, &Worker{Queue: s.connect(t), Name: "new", Jobs: 1})
	q := s.connect(t)
	for _, text := range []string{`{"Made": {"Version": "0.0.9+other"}}`, `{"Made": {"Version": "0.0.9+other"}, "Later": 1, "Plans": [{"File": "../x"}]}`} {
		body, name := packed(t, []byte(text))
		said := make(chan string, 100)
		sub, err := q.conn.Subscribe(noteSubject+"."+name, func(m *nats.Msg) { said <- string(m.Data) })
		require.NoError(t, err)
		defer sub.Unsubscribe()
		ctx, stop := context.WithTimeout(t.Context(), time.Minute)
		defer stop()
		refused := make(chan error, 1)
		go func() { refused <- flyPacked(ctx, t, q, body, name) }()
		select {
		case got := <-said:
			require.Contains(t, got, "worker new can't fly it: it is of drystage 0.0.9+other")
		case err := <-refused:
			require.NoError(t, err, "it may not end the campaign")
		}
	}
	b := shortBundle(t, 3)
	got, err := send(t.Context(), q, b, new(notes))
	require.NoError(t, err)
	same(t, here(t, b), got)
}

func TestWithoutAWorkerTheCampaignEnds(t *testing.T) {
	s := startServer(t)
	err := (&Sender{Queue: s.connect(t), Wait: 1500 * time.Millisecond, Notes: new(notes)}).Fly(t.Context(), shortBundle(t, 3), nil)
	var nobody NoWorkerError
	require.ErrorAs(t, err, &nobody)
	assert.Equal(t, "no worker of this version at the queue flies built-in boards for 1.5s", err.Error())
}

func TestWhatIsStoppedIsTakenBack(t *testing.T) {
	s := startServer(t)
	q := s.connect(t)
	ctx, stop := context.WithCancel(t.Context())
	b := shortBundle(t, 60)
	startWorker(t, &Worker{Queue: s.connect(t), Name: "one", Jobs: 1})
	n := 0
	err := (&Sender{Queue: q, Notes: new(notes)}).Fly(ctx, b, func(int, *Flown) error {
		if n++; n == 4 {
			stop()
			return ctx.Err()
		}
		return nil
	})
	require.ErrorIs(t, err, context.Canceled)
	stream, err := q.js.Stream(t.Context(), workStream)
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		info, err := stream.Info(t.Context())
		return err == nil && info.State.Msgs <= 1 // the one that is being flown
	}, 20*time.Second, 20*time.Millisecond)
}

// TestBench: the campaign of a bench goes to that bench only, one flight at a time, and its records come back.
func TestBench(t *testing.T) {
	s := startServer(t)
	b := shortBundle(t, 4)
	b.Boards, b.Bench, b.Batch, b.Once, b.Records = nil, "sustainer-rev2", 1, "x", AllRecords
	q := s.connect(t)
	startWorker(t, &Worker{Queue: s.connect(t), Name: "any", Jobs: 2})
	startWorker(t, &Worker{Queue: s.connect(t), Name: "table 1", Bench: "sustainer-rev2", Options: run.Options{Boards: []string{"mock:ignores-tilt"}, Jobs: 1}})
	startWorker(t, &Worker{Queue: s.connect(t), Name: "table 2", Bench: "booster-rev1", Options: run.Options{Boards: []string{"mock"}, Jobs: 1}})
	send := &Sender{Queue: q, Notes: new(notes)}
	var boards []string
	require.NoError(t, send.Fly(t.Context(), b, func(i int, f *Flown) error {
		rec, err := send.Record(t.Context(), f)
		boards = append(boards, rec.Made.Boards...)
		return err
	}))
	require.Len(t, boards, 8)
	for _, a := range boards {
		assert.Equal(t, "mock:ignores-tilt", a)
	}
	var names []string
	require.Eventually(t, func() bool {
		all, err := q.Workers(t.Context())
		names = nil
		for _, p := range all {
			names = append(names, p.Name+" "+p.Bench)
		}
		return err == nil && slices.Equal(names, []string{"any ", "table 1 sustainer-rev2", "table 2 booster-rev1"})
	}, 10*time.Second, 20*time.Millisecond, "%v", names)
}

// TestABenchThatWentAway: a batch that was handed out before is flown again only if the campaign says so.
func TestABenchThatWentAway(t *testing.T) {
	s := startServer(t)
	for _, c := range []struct {
		giveBack bool
		want     harness.Answer
	}{{true, harness.Pass}, {false, harness.Unsure}} {
		b := shortBundle(t, 1)
		b.Bench, b.Batch, b.GiveBack, b.Once = "table", 1, c.giveBack, c.want.String()
		q := s.connect(t)
		consumer, err := q.js.CreateOrUpdateConsumer(t.Context(), workStream, (&Worker{Bench: "table"}).consumer())
		require.NoError(t, err)
		started := make(chan func())
		go func() { // a bench that takes the batch, and gives no sign any more
			m, err := consumer.Next(jetstream.FetchMaxWait(time.Minute))
			if err == nil {
				_ = m.Nak() // as the queue does itself when the lease is over
			}
			started <- startWorker(t, &Worker{Queue: s.connect(t), Name: "table", Bench: "table", Options: run.Options{Jobs: 1}})
		}()
		got, err := send(t.Context(), q, b, new(notes))
		require.NoError(t, err)
		require.Len(t, got, 1)
		assert.Equal(t, c.want, got[0].Answer)
		(<-started)()
	}
}

// packed gives the bytes of any bundle with their name.
func packed(t *testing.T, text []byte) ([]byte, string) {
	b, err := pack(text)
	require.NoError(t, err)
	return b, digest(b)
}

// TestHostileBundles: each is refused with a reason, nothing is started or written, and the worker flies the next one.
func TestHostileBundles(t *testing.T) {
	t.Chdir(t.TempDir())
	s := startServer(t)
	startWorker(t, &Worker{Queue: s.connect(t), Name: "one", Jobs: 1})
	with := func(change func(b *Bundle)) []byte {
		b := shortBundle(t, 3)
		change(b)
		text, err := json.Marshal(b)
		require.NoError(t, err)
		return text
	}
	for _, c := range []struct {
		reason, want string
		text         []byte
	}{
		{"a program as a board", "is not built in", with(func(b *Bundle) { b.Boards = []string{"exec:touch owned"} })},
		{"a program for a role", "is not built in", with(func(b *Bundle) { b.Boards = []string{"sustainer=exec:touch owned"} })},
		{"a program behind a lookalike", "is not built in", with(func(b *Bundle) { b.Boards = []string{"exec:touch owned=mock"} })},
		{"a port", "is not built in", with(func(b *Bundle) { b.Boards = []string{"tcp:127.0.0.1:1"} })},
		{"paths that leave", "nominal.yaml", with(func(b *Bundle) {
			b.Plans[0].Files = []harness.File{{Name: "../../etc/x.yaml", Text: strings.Replace(short, "nominal.yaml", "../../../etc/nominal.yaml", 1)}}
			b.Plans[0].File = "../../etc/x.yaml"
		})},
		{"a log of the worker's", "plays a flight log", with(func(b *Bundle) {
			b.Plans[0].Files = append(b.Plans[0].Files, harness.File{Name: "flight.csv", Sum: strings.Repeat("00", 32)})
			b.Plans[0].Files[0].Text = "drystage: scenario\ntitle: A log\nvehicle: vehicles/dunlin.yaml\nboards: {sustainer: {file: boards/sustainer.yaml, stage: sustainer}}\nuntil: 3 s\n" +
				"log: {file: flight.csv}\nexpect:\n  - {alive: sustainer}\n"
		})},
		{"no flights", "0 flights", with(func(b *Bundle) { b.Flights = 0 })},
		{"too many flights", "wanted 1 to 10000000", with(func(b *Bundle) { b.Flights = 1 << 40 })},
		{"an unknown key", "unknown field", []byte(`{"Exec": "touch owned"}`)},
		{"no JSON", "can't be read", []byte("\x00\xff")},
		{"the wrong bench", "bench", with(func(b *Bundle) { b.Bench = "a>.*" })},
		{"64 MB and more of nothing", "unpacked", bytes.Repeat([]byte(" "), maxUnpacked+100)},
	} {
		t.Run(c.reason, func(t *testing.T) {
			body, name := packed(t, c.text)
			err := flyPacked(t.Context(), t, s.connect(t), body, name)
			require.ErrorContains(t, err, "worker one refused the campaign")
			require.ErrorContains(t, err, c.want)
		})
	}
	t.Run("bytes of another name", func(t *testing.T) {
		body, _ := packed(t, with(func(*Bundle) {}))
		require.ErrorContains(t, flyPacked(t.Context(), t, s.connect(t), body, strings.Repeat("ab", 32)), "its bytes have the digest")
	})
	t.Run("a bundle that isn't there", func(t *testing.T) {
		require.ErrorContains(t, flyPacked(t.Context(), t, s.connect(t), nil, strings.Repeat("cd", 32)), "isn't at the queue")
	})
	b := shortBundle(t, 3)
	got, err := send(t.Context(), s.connect(t), b, new(notes))
	require.NoError(t, err, "the worker lives on")
	same(t, here(t, b), got)
	left, err := os.ReadDir(".")
	require.NoError(t, err)
	require.Empty(t, left, "nothing is written")
}

// flyPacked puts bytes to the queue as a campaign, and gives what came of its first batch.
func flyPacked(ctx context.Context, t *testing.T, q *Queue, body []byte, name string) error {
	if body != nil {
		assert.NoError(t, (&Sender{Queue: q}).publish(ctx, body, name))
	}
	_, err := q.js.Publish(ctx, workOf(anyWorker, name), []byte("0"))
	assert.NoError(t, err)
	b := &Bundle{Plans: make([]Source, 1), Flights: 1, Batch: 1}
	return (&Sender{Queue: q, Notes: new(notes)}).gather(ctx, b, name, nil)
}

// TestHostileResults: a result that can't be one is an error, and takes no memory.
func TestHostileResults(t *testing.T) {
	whole, err := (&result{Flown: make([]Flown, 2)}).encode()
	require.NoError(t, err)
	_, err = decodeResult(whole, 2)
	require.NoError(t, err)
	_, err = decodeResult(whole, 3)
	require.ErrorContains(t, err, "it has 2 flights: wanted 3")
	for n := range whole {
		_, err := decodeResult(whole[:n], 2)
		require.Error(t, err, "cut at %d", n)
	}
	huge, _ := packed(t, make([]byte, maxResult+1))
	_, err = decodeResult(huge, 2)
	require.ErrorContains(t, err, "unpacked")
	deep, _ := packed(t, bytes.Repeat([]byte{0x81}, 1000))
	_, err = decodeResult(deep, 2)
	require.Error(t, err)
}

// TestRecordsComeBackWhole: a record that went over the queue is the one that a flight here gives.
func TestRecordsComeBackWhole(t *testing.T) {
	s := startServer(t)
	b := shortBundle(t, 2)
	b.Records = AllRecords
	startWorker(t, &Worker{Queue: s.connect(t), Name: "one", Jobs: 1})
	plans, err := b.plans()
	require.NoError(t, err)
	bench, err := run.Open(t.Context(), run.Options{}, plans)
	require.NoError(t, err)
	defer bench.Close()
	q := &Sender{Queue: s.connect(t), Notes: new(notes)}
	require.NoError(t, q.Fly(t.Context(), b, func(i int, f *Flown) error {
		far, err := q.Record(t.Context(), f)
		require.NoError(t, err)
		p := b.plan(plans, i)
		return bench.Fly(t.Context(), []harness.Plan{p}, func(_ int, near *harness.Record) error {
			var a, b bytes.Buffer
			require.NoError(t, record.Write(&a, near))
			require.NoError(t, record.Write(&b, &far))
			require.True(t, bytes.Equal(a.Bytes(), b.Bytes()), "flight %d", i+1)
			return nil
		})
	}))
}

// A server that is about to come back is waited for.
func TestConnectWhileTheServerRestarts(t *testing.T) {
	s := startServer(t)
	s.Kill()
	time.AfterFunc(500*time.Millisecond, s.Restart)
	q, err := Connect(t.Context(), Options{URL: s.URL})
	require.NoError(t, err)
	q.Close()
}

// A server that goes away right after it has let somebody in, before it has answered, is waited for, too.
func TestConnectWhileTheServerGoesAway(t *testing.T) {
	t.Parallel()
	s := startServer(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	var cut atomic.Bool
	go func() {
		for {
			client, err := l.Accept()
			if err != nil {
				return
			}
			server, err := net.Dial("tcp", strings.TrimPrefix(s.URL, "nats://"))
			if err != nil {
				client.Close()
				continue
			}
			go func() { _, _ = io.Copy(client, server); client.Close() }()
			go func() {
				defer server.Close()
				text := make([]byte, 1<<16)
				for {
					n, err := client.Read(text)
					if err != nil || bytes.Contains(text[:n], []byte("$JS.API")) && cut.CompareAndSwap(false, true) {
						return
					}
					if _, err := server.Write(text[:n]); err != nil {
						return
					}
				}
			}()
		}
	}()
	q, err := Connect(t.Context(), Options{URL: "nats://" + l.Addr().String()})
	require.NoError(t, err)
	require.True(t, cut.Load())
	q.Close()
}

// A worker that flies one campaign after the other takes no more memory than with one: they use the same records.
func TestCampaignsShareRecords(t *testing.T) {
	w := &Worker{}
	records := map[*harness.Record]bool{}
	for range 3 {
		b := shortBundle(t, 3)
		plans, err := b.plans()
		require.NoError(t, err)
		bench, err := run.Open(t.Context(), w.options(b), plans)
		require.NoError(t, err)
		plan := b.plan(plans, 0)
		require.NoError(t, Judged(t.Context(), bench, 3, func(int) run.Flight { return run.Flight{Plan: &plan} },
			func(_ int, rec *harness.Record, _ harness.Verdict) error {
				records[rec] = true
				return nil
			}))
		require.NoError(t, bench.Close())
	}
	assert.Len(t, records, 1)
}
