package loop

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"time"

	"drystage/harness"
	"drystage/sim"
)

// RealTime paces a run by the wall clock. Frames are sent at absolute deadlines, so that lateness does not accumulate. It
// is for one run and, except for Now, for one goroutine.
//
// From the first Wait to Done the goroutine is locked to an operating system thread with real-time priority and locked
// memory, as far as the system grants them. The other threads of the process get a lower real-time priority. The garbage
// collector is off, so a run should not allocate memory.
type RealTime struct {
	opt     RealTimeOptions
	soft    bool // don't change priorities, threads or the garbage collector
	clock   timer
	zero    atomic.Int64 // of the clock, when the run began; 0: not yet
	granted []string
	undo    []func()
}

// RealTimeOptions of a RealTime; the zero value is good.
type RealTimeOptions struct {
	Limit    sim.Time // lateness that makes the run unsure; 0: DefaultLimit
	Spin     sim.Time // how long each wait spins before its deadline; 0: DefaultSpin; negative: not at all
	Ordinary bool     // ask for no priority over other programs, and lock no memory
}

const (
	// DefaultLimit is under half a sample period at 200 Hz: common practice, no source.
	DefaultLimit = 2 * sim.Millisecond
	// DefaultSpin is longer than a sleeping thread nearly always takes to wake up.
	DefaultSpin = 50 * sim.Microsecond

	yieldAbove = int64(2 * time.Millisecond)   // longer than a preemption
	lead       = int64(2 * time.Millisecond)   // from the first Wait to time 0
	checkEvery = int64(100 * time.Millisecond) // how often a long wait looks whether ctx is done
)

// timer is a clock for waiting, in nanoseconds since an arbitrary start.
type timer interface {
	now() int64
	// waitUntil returns at t, or at once if that has passed, and gives the time then. It spins for the last part.
	waitUntil(t, awake int64) (now int64)
}

// goTimer uses the timers of the Go runtime. It works on all platforms, but may be a millisecond late.
type goTimer struct{ start time.Time }

func (g *goTimer) now() int64 { return int64(time.Since(g.start)) + 1 }

func (g *goTimer) waitUntil(t, awake int64) int64 {
	time.Sleep(time.Duration(t - awake - g.now()))
	return spin(g, t)
}

// spin waits actively until t.
func spin(clock timer, t int64) (now int64) {
	for now = clock.now(); now < t; {
		now = clock.now()
	}
	return now
}

// NewRealTime makes a pacer. Its time 0 is the first Wait.
func NewRealTime(opt RealTimeOptions) *RealTime {
	if opt.Limit == 0 {
		opt.Limit = DefaultLimit
	}
	if opt.Spin == 0 {
		opt.Spin = DefaultSpin
	}
	return &RealTime{opt: opt, clock: systemTimer()}
}

// NewSoftTime makes a pacer that uses the timers of the Go runtime only, and never spins. It is for tests with a fake
// clock.
func NewSoftTime(limit sim.Time) *RealTime {
	return &RealTime{opt: RealTimeOptions{Limit: limit, Spin: -1}, soft: true, clock: &goTimer{time.Now()}}
}

// Now is the time of the run; 0 until it begins. Any goroutine may ask.
func (p *RealTime) Now() sim.Time {
	zero := p.zero.Load()
	if zero == 0 {
		return 0
	}
	return sim.Time(p.clock.now() - zero)
}

// Pace tells what the system granted.
func (p *RealTime) Pace() harness.Pace {
	return harness.Pace{RealTime: true, Limit: p.opt.Limit, How: strings.Join(p.granted, ", ")}
}

// Wait returns at t, and says how late it is. The first Wait begins the run.
func (p *RealTime) Wait(ctx context.Context, t sim.Time) (sim.Time, error) {
	if p.zero.Load() == 0 {
		p.begin(t)
	}
	deadline := p.zero.Load() + int64(t)
	for {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if deadline-p.clock.now() > yieldAbove {
			runtime.Gosched() // Go preempts a goroutine every 10 ms: here is better than between two frames
		}
		soon := p.clock.now() + checkEvery
		if soon >= deadline {
			return sim.Time(p.clock.waitUntil(deadline, max(int64(p.opt.Spin), 0)) - deadline), nil
		}
		p.clock.waitUntil(soon, 0)
	}
}

// begin prepares the thread, and sets time 0 so that t is a little in the future.
func (p *RealTime) begin(t sim.Time) {
	if p.soft {
		p.granted = []string{"Go's timers"}
	} else {
		p.prepare()
	}
	p.zero.Store(p.clock.now() + lead - int64(t))
}

func (p *RealTime) prepare() {
	runtime.LockOSThread()
	p.undo = append(p.undo, runtime.UnlockOSThread)
	// A thread that sleeps in a raw system call keeps its scheduler slot (a P in Go's runtime): add one for the others.
	slots := runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + 1)
	p.undo = append(p.undo, func() { runtime.GOMAXPROCS(slots) })
	runtime.GC()
	percent := debug.SetGCPercent(-1)
	p.undo = append(p.undo, func() { debug.SetGCPercent(percent) })
	granted, undo := requestPriority(p.opt.Ordinary)
	p.granted = append(granted, fmt.Sprintf("awake for the last %d us", max(p.opt.Spin, 0)/sim.Microsecond))
	p.undo = append(p.undo, undo)
}

// Done undoes what begin did.
func (p *RealTime) Done() {
	for i := len(p.undo) - 1; i >= 0; i-- {
		p.undo[i]()
	}
	p.undo = nil
}
