package rig

import (
	"cmp"
	"context"
	"slices"
	"sync"
	"time"

	"drystage/harness"
)

const (
	shortestWait = 50 * time.Microsecond // zero means "for ever" to some drivers and "no wait" to others
	pollEvery    = 50 * time.Millisecond // how often the level is read though no edge came
)

// PinEdge is an edge of an output, as its pin showed it.
type PinEdge struct {
	Role, Output string
	On           bool
	At           time.Time     // of the pin's edge, uncorrected
	Slack        time.Duration // the driver missed the edge: it was up to this long before At
}

// pinMonitor watches one output by its pin.
type pinMonitor struct {
	role string
	out  harness.RigOutput
	in   input

	mu        sync.Mutex
	debounce  debouncer
	edges     []PinEdge
	missed    int
	checkedAt time.Time     // when the level was last read
	slack     time.Duration // of the edge that is being debounced
	changed   chan struct{} // closed and renewed at each edge
	stop      chan struct{}
	ended     chan struct{}
}

func startMonitor(in input, role string, o harness.RigOutput) *pinMonitor {
	e := &pinMonitor{role: role, out: o, in: in, changed: make(chan struct{}), stop: make(chan struct{}), ended: make(chan struct{})}
	now := in.read()
	e.debounce = debouncer{hold: time.Duration(o.Capture.Debounce), level: now, raw: now}
	e.checkedAt = time.Now()
	go e.watch()
	return e
}

// watch waits for edges until the monitor is closed. Edges that were queued while this computer was busy keep their
// own times, so that bouncing is recognised. An edge that the driver lost is found by reading the level; it has
// slack.
func (e *pinMonitor) watch() {
	defer close(e.ended)
	for {
		select {
		case <-e.stop:
			return
		default:
		}
		c, ok := e.in.wait(e.waitTime())
		now, level := time.Now(), e.in.read()
		if !ok && e.differs(level) { // the edge may have come just after the wait
			if c, ok = e.in.wait(shortestWait); !ok {
				now, level = time.Now(), e.in.read()
			}
		}
		e.mu.Lock()
		switch {
		case ok:
			e.settle(c.at) // the level before this edge
			e.debounce.edge(c.at, c.level)
			if e.debounce.hold == 0 {
				e.settle(c.at)
			}
		case level != e.debounce.raw:
			e.slack = now.Sub(e.checkedAt)
			e.missed++
			e.debounce.edge(now, level)
		default:
			e.settle(now)
		}
		e.checkedAt = now
		e.mu.Unlock()
	}
}

func (e *pinMonitor) differs(level bool) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return level != e.debounce.raw
}

// settle adds the edge that has become stable by a time; the monitor is locked.
func (e *pinMonitor) settle(by time.Time) {
	c, ok := e.debounce.settle(by)
	if !ok {
		return
	}
	e.edges = append(e.edges, PinEdge{Role: e.role, Output: e.out.Name, On: e.on(c.level), At: c.at, Slack: e.slack})
	e.slack = 0
	close(e.changed)
	e.changed = make(chan struct{})
}

func (e *pinMonitor) waitTime() time.Duration {
	e.mu.Lock()
	defer e.mu.Unlock()
	if left, moving := e.debounce.due(time.Now()); moving {
		return max(shortestWait, min(left, pollEvery))
	}
	return pollEvery
}

func (e *pinMonitor) on(level bool) bool { return level != e.out.Capture.ActiveLow }

// state says whether the output is on, debounced. The channel is closed at the next edge.
func (e *pinMonitor) state() (on bool, moved <-chan struct{}) {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.on(e.debounce.level), e.changed
}

// waitFor waits until the output is on or off as wanted. It gives up as await does.
func (e *pinMonitor) waitFor(ctx context.Context, on bool, within time.Duration) bool {
	return e.await(ctx, within, func() bool { return e.on(e.debounce.level) == on })
}

// waitForOn waits until there is an edge to on that nobody has taken. It gives up as await does.
func (e *pinMonitor) waitForOn(ctx context.Context, within time.Duration) bool {
	return e.await(ctx, within, func() bool { return slices.ContainsFunc(e.edges, func(x PinEdge) bool { return x.On }) })
}

// await waits until something is so, which is asked while the monitor is locked. It gives up after a time, but not
// before the pin has been read once more and is stable: this computer may be busy.
func (e *pinMonitor) await(ctx context.Context, within time.Duration, so func() bool) bool {
	t := time.NewTimer(within)
	defer t.Stop()
	for {
		e.mu.Lock()
		is, moved := so(), e.changed
		e.mu.Unlock()
		if is {
			return true
		}
		select {
		case <-moved:
		case <-t.C:
			return e.stable(ctx, time.Now(), so)
		case <-ctx.Done():
			return false
		}
	}
}

// stable waits until the pin has been read after a time and is stable, and says whether something is so by then.
func (e *pinMonitor) stable(ctx context.Context, after time.Time, so func() bool) bool {
	for {
		e.mu.Lock()
		is, over := so(), e.checkedAt.After(after) && !e.debounce.unsettled
		e.mu.Unlock()
		if is || over {
			return is
		}
		select {
		case <-ctx.Done():
			return false
		case <-e.ended:
			return false
		case <-time.After(time.Millisecond):
		}
	}
}

func (e *pinMonitor) takeEdges() []PinEdge {
	e.mu.Lock()
	defer e.mu.Unlock()
	s := e.edges
	e.edges = nil
	return s
}

func (e *pinMonitor) close() {
	close(e.stop)
	_ = e.in.close() // also ends a wait, if the driver can
	<-e.ended
}

// TakeEdges gives the edges of a board's outputs since the last call, in order of their times.
func (r *Rig) TakeEdges(role string) []PinEdge {
	var all []PinEdge
	for _, e := range r.monitors {
		if e.role == role {
			all = append(all, e.takeEdges()...)
		}
	}
	slices.SortStableFunc(all, func(a, b PinEdge) int { return cmp.Compare(a.At.UnixNano(), b.At.UnixNano()) })
	return all
}

// monitorOf gives the monitor of an output; nil if no pin sees it.
func (r *Rig) monitorOf(role, output string) *pinMonitor {
	for _, e := range r.monitors {
		if e.role == role && e.out.Name == output {
			return e
		}
	}
	return nil
}

// PinErrors counts glitches, which are levels too short to count, and edges that the driver missed, over all pins.
func (r *Rig) PinErrors() (glitches, missed int) {
	for _, e := range r.monitors {
		e.mu.Lock()
		glitches, missed = glitches+e.debounce.glitches, missed+e.missed
		e.mu.Unlock()
	}
	return glitches, missed
}
