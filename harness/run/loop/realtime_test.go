package loop

import (
	"context"
	"os"
	"runtime"
	"runtime/debug"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/sim"
)

// TestWaitIsOnTime: on a fake clock each instant leaves when it is due, and waits long and short add
// up to nothing.
func TestWaitIsOnTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := NewSoftTime(DefaultLimit)
		assert.Zero(t, p.Now(), "not yet begun")
		start := time.Now()
		for _, at := range []sim.Time{0, 1, 5 * sim.Millisecond, 5 * sim.Millisecond, 10 * sim.Second} {
			late, err := p.Wait(t.Context(), at)
			require.NoError(t, err)
			assert.Zero(t, late)
			assert.Equal(t, at, p.Now())
		}
		assert.Equal(t, 10*time.Second+time.Duration(lead), time.Since(start))
		time.Sleep(7 * time.Millisecond)
		late, err := p.Wait(t.Context(), 10*sim.Second+3*sim.Millisecond)
		require.NoError(t, err)
		assert.Equal(t, 4*sim.Millisecond, late, "lateness is measured, and not made up for")
		assert.Equal(t, harness.Pace{RealTime: true, Limit: DefaultLimit, How: "Go's timers"}, p.Pace())
	})
}

// TestWaitBeginsAnywhere: the first instant need not be time 0.
func TestWaitBeginsAnywhere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := NewSoftTime(DefaultLimit)
		late, err := p.Wait(t.Context(), sim.Second)
		require.NoError(t, err)
		assert.Zero(t, late)
		assert.Equal(t, sim.Second, p.Now())
	})
}

// TestWaitEndsWhenTold: a long wait looks ten times a second whether it is still wanted.
func TestWaitEndsWhenTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithTimeout(t.Context(), 250*time.Millisecond)
		defer stop()
		start := time.Now()
		p := NewSoftTime(DefaultLimit)
		_, err := p.Wait(ctx, 0)
		require.NoError(t, err)
		_, err = p.Wait(ctx, sim.Time(time.Hour))
		assert.ErrorIs(t, err, context.DeadlineExceeded)
		assert.Less(t, time.Since(start), 400*time.Millisecond)
	})
}

// stall is a board that takes its time for an exchange, once.
type stall struct {
	scriptBoard
	at   sim.Time
	long time.Duration
}

func (s *stall) Finish(context.Context, *harness.Reply) error { return nil }

func (s *stall) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	if f.Now == s.at {
		time.Sleep(s.long)
	}
	return s.scriptBoard.Exchange(ctx, f, r)
}

// slowSource takes its time for a step, once.
type slowSource struct {
	clockSource
	at   sim.Time
	long time.Duration
}

func (s *slowSource) Step(outs []sim.Output) (*sim.Tick, bool) {
	if s.now+sim.Second == s.at {
		time.Sleep(s.long)
	}
	t, ok := s.clockSource.Step(outs)
	t.Frames = []sim.Frame{t.Frames[0], t.Frames[0]}
	return t, ok
}

// TestLatenessIsRecorded: one per tick, that of the frame that left last.
func TestLatenessIsRecorded(t *testing.T) {
	const ms = sim.Millisecond
	for _, c := range []struct {
		reason        string
		first, second stall
		src           slowSource
		want          []sim.Time
	}{
		{"nobody is slow", stall{}, stall{}, slowSource{}, []sim.Time{0, 0, 0, 0, 0}},
		{"a board that is slow makes the next board's frame late", stall{at: 2 * sim.Second, long: 5 * time.Millisecond}, stall{}, slowSource{}, []sim.Time{0, 5 * ms, 0, 0, 0}},
		{"the last board, only when it takes longer than a period", stall{}, stall{at: 2 * sim.Second, long: 2300 * time.Millisecond}, slowSource{}, []sim.Time{0, 0, 1300 * ms, 300 * ms, 0}},
		{"a source that is slow", stall{}, stall{}, slowSource{at: 3 * sim.Second, long: 1100 * time.Millisecond}, []sim.Time{0, 0, 100 * ms, 0, 0}},
	} {
		synctest.Test(t, func(t *testing.T) {
			rec := harness.Record{Plan: plan()}
			rec.Plan.Setup.Bays = make([]sim.Bay, 2)
			rec.Plan.Boards = make([]harness.Board, 2)
			c.src.end = 5 * sim.Second
			require.NoError(t, Run(t.Context(), &c.src, []board.Board{&c.first, &c.second}, NewSoftTime(2*ms), &rec))
			assert.Equal(t, c.want, rec.Late, c.reason)
			assert.True(t, rec.Complete())
			assert.Equal(t, harness.Pace{RealTime: true, Limit: 2 * ms, How: "Go's timers"}, rec.Pace)
			assert.Len(t, rec.Frames, 2*rec.Ticks())
		})
	}
}

func TestRealRunStopsWhenTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithTimeout(t.Context(), 1500*time.Millisecond)
		defer stop()
		rec := harness.Record{Plan: plan()}
		err := Run(ctx, &clockSource{end: 9 * sim.Second}, []board.Board{&scriptBoard{}}, NewSoftTime(0), &rec)
		require.ErrorIs(t, err, context.DeadlineExceeded)
		assert.Equal(t, "bench: interrupted at 3.000 s", rec.Cause)
		assert.Len(t, rec.Late, rec.Ticks())
		assert.False(t, rec.Complete())
	})
}

// grip is what a run takes from the process.
type grip struct{ seats, percent int }

func held() grip {
	percent := debug.SetGCPercent(100)
	debug.SetGCPercent(percent)
	return grip{runtime.GOMAXPROCS(0), percent}
}

// TestWallDoneGivesBack: two runs after each other, and each leaves the process as it found it, after a
// board that fails and after an interruption too. These wait on the real clock, for milliseconds.
func TestWallDoneGivesBack(t *testing.T) {
	before := held()
	ctx, stop := context.WithCancel(t.Context())
	for _, c := range []struct {
		reason string
		ctx    context.Context
		broken sim.Time
	}{{"a good run", ctx, 0}, {"again", ctx, 0}, {"a board fails", ctx, 2 * sim.Millisecond}, {"interrupted", stopped(ctx), 0}} {
		p := NewRealTime(RealTimeOptions{Limit: sim.Second})
		var during grip
		spy := &spyBoard{scriptBoard{broken: c.broken}, &during}
		rec := harness.Record{Plan: plan()}
		_ = Run(c.ctx, &quickSource{}, []board.Board{spy}, p, &rec)
		assert.Equal(t, before, held(), c.reason)
		p.Done()
		assert.Equal(t, before, held(), "done twice is fine")
		if c.ctx == ctx {
			assert.Equal(t, grip{before.seats + 1, -1}, during, c.reason)
			assert.Contains(t, rec.Pace.How, "awake for the last 50 us")
			assert.Len(t, rec.Late, rec.Ticks())
		}
	}
	stop()
}

func stopped(ctx context.Context) context.Context {
	ctx, stop := context.WithCancel(ctx)
	stop()
	return ctx
}

type spyBoard struct {
	scriptBoard
	saw *grip
}

func (s *spyBoard) Finish(context.Context, *harness.Reply) error { return nil }

func (s *spyBoard) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	*s.saw = held()
	return s.scriptBoard.Exchange(ctx, f, r)
}

// quickSource ticks three times, each a millisecond after the other.
type quickSource struct {
	tick sim.Tick
	n    sim.Time
}

func (s *quickSource) Step([]sim.Output) (*sim.Tick, bool) {
	s.n++
	now := s.n * sim.Millisecond
	s.tick = sim.Tick{Now: now, States: make([]sim.State, 1), Frames: []sim.Frame{{Now: now}}}
	return &s.tick, s.n < 3
}

// TestSystemTimer: it is never early, whatever it was asked, and signals do not end a wait.
func TestSystemTimer(t *testing.T) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	ringing := make(chan struct{})
	rung := make(chan struct{})
	go func() {
		defer close(rung)
		me, _ := os.FindProcess(os.Getpid())
		for {
			select {
			case <-ringing:
				return
			default:
				ring(me)
			}
		}
	}()
	c := systemTimer()
	for _, awake := range []int64{0, 20_000, 5_000_000} {
		for range 5 {
			at := c.now() + 1_000_000
			got := c.waitUntil(at, awake)
			assert.GreaterOrEqual(t, got, at)
			assert.GreaterOrEqual(t, c.now(), got)
		}
	}
	past := c.now() - 1
	assert.Greater(t, c.waitUntil(past, 0), past)
	close(ringing)
	<-rung
}

// TestWaitAllocatesNothing: no memory is asked for while a clock counts.
func TestWaitAllocatesNothing(t *testing.T) {
	p := NewRealTime(RealTimeOptions{Ordinary: true})
	defer p.Done()
	at := sim.Time(0)
	ctx := t.Context()
	assert.Zero(t, testing.AllocsPerRun(50, func() {
		at += 100 * sim.Microsecond
		_, _ = p.Wait(ctx, at)
	}))
}

// BenchmarkWait is the cost of a Wait whose time has come: what pacing adds to each tick.
func BenchmarkWait(b *testing.B) {
	p := NewRealTime(RealTimeOptions{Ordinary: true})
	defer p.Done()
	ctx := b.Context()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := p.Wait(ctx, 0); err != nil {
			b.Fatal(err)
		}
	}
}
