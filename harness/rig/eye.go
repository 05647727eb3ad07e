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
	shortest = 50 * time.Microsecond // a wait; zero means for ever to some drivers, and no wait to others
	glance   = 50 * time.Millisecond // how often a level is looked at though no edge came
)

// PinEdge is an edge of an output as its pin saw it.
type PinEdge struct {
	Role, Output string
	On           bool
	At           time.Time     // of the pin's edge, without any correction
	Slack        time.Duration // the edge itself was missed: it came up to this long before At
}

// eye watches one output by its pin.
type eye struct {
	role string
	out  harness.RigOutput
	in   input

	mu     sync.Mutex
	deb    debouncer
	seen   []PinEdge
	missed int
	looked time.Time     // at the level, last
	slack  time.Duration // of the edge that is about to count
	moved  chan struct{} // closed and renewed at each edge
	stop   chan struct{}
	done   chan struct{}
}

func open(in input, role string, o harness.RigOutput) *eye {
	e := &eye{role: role, out: o, in: in, moved: make(chan struct{}), stop: make(chan struct{}), done: make(chan struct{})}
	now := in.read()
	e.deb = debouncer{hold: time.Duration(o.Capture.Debounce), level: now, now: now}
	e.looked = time.Now()
	go e.watch()
	return e
}

// watch waits for edges until the eye is closed. Edges that were queued while this computer was busy
// count by their own times, so that bouncing is still bouncing. An edge that the driver lost is found
// by the level, late and with its slack.
func (e *eye) watch() {
	defer close(e.done)
	for {
		select {
		case <-e.stop:
			return
		default:
		}
		c, ok := e.in.wait(e.patience())
		now, level := time.Now(), e.in.read()
		if !ok && e.differs(level) { // the edge may have come right behind the wait
			if c, ok = e.in.wait(shortest); !ok {
				now, level = time.Now(), e.in.read()
			}
		}
		e.mu.Lock()
		switch {
		case ok:
			e.settle(c.at) // what stood until this edge
			e.deb.edge(c.at, c.level)
			if e.deb.hold == 0 {
				e.settle(c.at)
			}
		case level != e.deb.now:
			e.slack = now.Sub(e.looked)
			e.missed++
			e.deb.edge(now, level)
		default:
			e.settle(now)
		}
		e.looked = now
		e.mu.Unlock()
	}
}

func (e *eye) differs(level bool) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return level != e.deb.now
}

// settle counts the edge that has come to stand by a time; the eye is locked.
func (e *eye) settle(by time.Time) {
	c, ok := e.deb.settle(by)
	if !ok {
		return
	}
	e.seen = append(e.seen, PinEdge{Role: e.role, Output: e.out.Name, On: e.on(c.level), At: c.at, Slack: e.slack})
	e.slack = 0
	close(e.moved)
	e.moved = make(chan struct{})
}

func (e *eye) patience() time.Duration {
	e.mu.Lock()
	defer e.mu.Unlock()
	if left, moving := e.deb.due(time.Now()); moving {
		return max(shortest, min(left, glance))
	}
	return glance
}

func (e *eye) on(level bool) bool { return level != e.out.Capture.ActiveLow }

// is says whether the output is on, as it counts now, and gives what is closed at the next edge.
func (e *eye) is() (on bool, moved <-chan struct{}) {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.on(e.deb.level), e.moved
}

// becomes waits until the output is as wanted, or until the time is over and the pin has been looked
// at since: a busy computer that looks late proves nothing.
func (e *eye) becomes(ctx context.Context, on bool, within time.Duration) bool {
	t := time.NewTimer(within)
	defer t.Stop()
	for {
		is, moved := e.is()
		if is == on {
			return true
		}
		select {
		case <-moved:
		case <-t.C:
			return e.atLast(ctx, on, time.Now())
		case <-ctx.Done():
			return false
		}
	}
}

// atLast says how the output is once its pin has been looked at after a time, and stands still.
func (e *eye) atLast(ctx context.Context, on bool, after time.Time) bool {
	for {
		e.mu.Lock()
		is, over := e.on(e.deb.level) == on, e.looked.After(after) && !e.deb.moving
		e.mu.Unlock()
		if is || over {
			return is
		}
		select {
		case <-ctx.Done():
			return false
		case <-e.done:
			return false
		case <-time.After(time.Millisecond):
		}
	}
}

func (e *eye) take() []PinEdge {
	e.mu.Lock()
	defer e.mu.Unlock()
	s := e.seen
	e.seen = nil
	return s
}

func (e *eye) close() {
	close(e.stop)
	_ = e.in.close() // ends a wait, where the driver can
	<-e.done
}

// TakeEdges gives the edges of a board's outputs since the last time, in order of their times.
func (r *Rig) TakeEdges(role string) []PinEdge {
	var all []PinEdge
	for _, e := range r.eyes {
		if e.role == role {
			all = append(all, e.take()...)
		}
	}
	slices.SortStableFunc(all, func(a, b PinEdge) int { return cmp.Compare(a.At.UnixNano(), b.At.UnixNano()) })
	return all
}

// eye gives the eye on an output; nil when no pin sees it.
func (r *Rig) eye(role, output string) *eye {
	for _, e := range r.eyes {
		if e.role == role && e.out.Name == output {
			return e
		}
	}
	return nil
}

// PinErrors counts, over all pins, the levels too short to count and the edges that were found late.
func (r *Rig) PinErrors() (glitches, missed int) {
	for _, e := range r.eyes {
		e.mu.Lock()
		glitches, missed = glitches+e.deb.glitches, missed+e.missed
		e.mu.Unlock()
	}
	return glitches, missed
}
