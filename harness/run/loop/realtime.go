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

// RealTime paces a run by the wall clock: the frames of an instant leave at an absolute deadline, so
// that lateness never adds up. It is for one run, and for one goroutine but for Now.
//
// While it paces, its goroutine owns an operating system thread, which has what the system grants of a
// real-time priority and locked memory, and the process's other threads have a lower priority of that
// kind. The whole process collects no garbage, so that a run had better make none.
type RealTime struct {
	opt     RealTimeOptions
	soft    bool // leave process and thread as they are
	clock   timer
	zero    atomic.Int64 // of the clock, when the run began; 0: not yet
	granted []string
	undo    []func()
}

// RealTimeOptions of a RealTime; the zero value is good.
type RealTimeOptions struct {
	Limit    sim.Time // lateness that leaves the run in doubt; 0: DefaultLimit
	Spin     sim.Time // the last part of each wait is spent awake; 0: DefaultSpin; below 0: none
	Ordinary bool     // ask for no priority over other programs, and lock no memory
}

const (
	// DefaultLimit is under half a sample period at 200 Hz: common practice, no source.
	DefaultLimit = 2 * sim.Millisecond
	// DefaultSpin is what a sleeping thread needs to be awake again, nearly always.
	DefaultSpin = 50 * sim.Microsecond

	ample  = int64(2 * time.Millisecond)   // time enough to lose one's seat and have it back
	lead   = int64(2 * time.Millisecond)   // from the first Wait to time 0
	glance = int64(100 * time.Millisecond) // how often a long wait looks whether ctx is done
)

// timer is a clock to wait by, in nanoseconds since any start.
type timer interface {
	now() int64
	// waitUntil returns at t, or at once when that has passed, and says what the time is. The last part
	// is spent awake.
	waitUntil(t, awake int64) (now int64)
}

// goTimer is the timer of Go's own runtime: a millisecond late, and everywhere.
type goTimer struct{ start time.Time }

func (g *goTimer) now() int64 { return int64(time.Since(g.start)) + 1 }

func (g *goTimer) waitUntil(t, awake int64) int64 {
	time.Sleep(time.Duration(t - awake - g.now()))
	return spin(g, t)
}

// spin stays awake until t.
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

// NewSoftTime makes a pacer that goes by Go's own timers, asks the operating system for nothing, and
// never spins. It is for tests under a fake clock.
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

// Pace says what was granted.
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
		if deadline-p.clock.now() > ample {
			runtime.Gosched() // Go takes its seat away every 10 ms: now is better than between two frames
		}
		soon := p.clock.now() + glance
		if soon >= deadline {
			return sim.Time(p.clock.waitUntil(deadline, max(int64(p.opt.Spin), 0)) - deadline), nil
		}
		p.clock.waitUntil(soon, 0)
	}
}

// begin takes hold of the thread, and sets time 0 so that t is a little ahead.
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
	// A thread that sleeps in a bare system call keeps its seat in the scheduler: one more for the rest.
	seats := runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + 1)
	p.undo = append(p.undo, func() { runtime.GOMAXPROCS(seats) })
	runtime.GC()
	percent := debug.SetGCPercent(-1)
	p.undo = append(p.undo, func() { debug.SetGCPercent(percent) })
	granted, undo := claim(p.opt.Ordinary)
	p.granted = append(granted, fmt.Sprintf("awake for the last %d us", max(p.opt.Spin, 0)/sim.Microsecond))
	p.undo = append(p.undo, undo)
}

// Done gives back what begin took.
func (p *RealTime) Done() {
	for i := len(p.undo) - 1; i >= 0; i-- {
		p.undo[i]()
	}
	p.undo = nil
}
