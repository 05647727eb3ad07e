// Package receiver sends the GNSS fixes of boards as NMEA 0183 on ports of their own, beside the contract. The
// sentences hold the fix as the board gets it, with all effects of faults. A port never delays a run for longer than
// MaxWait; if nobody reads it, the port's health says so.
//
// It never reads from a port, never opens one twice, and never starts a program.
package receiver

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/sim"
)

const (
	// MaxWait is how long a port that takes nothing may delay a lockstep run, and how long its end is waited for. A
	// slow line is waited for, but in total not longer than the flight takes, plus this.
	MaxWait = time.Second
	// queueSize is how many sets of sentences may wait for a port.
	queueSize = 16
)

// errUnread is the cause of losses while the link takes nothing.
var errUnread = errors.New("nobody reads it, or its line is too slow")

// Port writes sets of sentences to a link, in order, in its own goroutine.
type Port struct {
	address string
	link    link.Link
	queue   chan job
	quit    chan struct{}
	ended   chan struct{}
	closing sync.Once

	mu         sync.Mutex
	run        int // number of the run
	sent, lost int // sets of this run
	pending    int // sets of this run that are queued, neither sent nor lost
	cause      error
	broken     bool          // the link failed
	stalled    bool          // it took nothing for MaxWait, and nothing since
	waited     time.Duration // time spent waiting in this run
}

// job is a set of sentences; done is closed when the link has taken it or has failed.
type job struct {
	run  int
	text []byte
	done chan struct{}
}

// Check says what is wrong with the form of an address. exec: is refused: its program would be taken for a board.
func Check(address string) error {
	if strings.HasPrefix(address, "exec:") {
		return fmt.Errorf("receiver: %s: a port starts no program; use serial:PORT?baud=N, unix:PATH or tcp:HOST:PORT", address)
	}
	return link.Check(address)
}

// New makes a port. The link belongs to the port from then on.
func New(l link.Link, address string) *Port {
	p := &Port{address: address, link: l, queue: make(chan job, queueSize), quit: make(chan struct{}), ended: make(chan struct{})}
	go p.write()
	return p
}

// begin starts a new run.
func (p *Port) begin() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.run++
	p.sent, p.lost, p.pending, p.waited = 0, 0, 0, 0
	if !p.broken {
		p.cause = nil
	}
}

// send queues a set of sentences, and says whether there was room. With wait, it returns when the link has taken the
// set, or after the allowed delay.
func (p *Port) send(text []byte, now sim.Time, wait bool) bool {
	p.mu.Lock()
	j := job{run: p.run, text: text}
	p.pending++
	broken, patience := p.broken, min(MaxWait, MaxWait+time.Duration(now)-p.waited)
	if p.stalled {
		patience = 0
	}
	p.mu.Unlock()
	if broken {
		p.countLost(j.run, nil)
		return false
	}
	if wait && patience > 0 {
		j.done = make(chan struct{})
	}
	select {
	case p.queue <- j:
	default:
		p.countLost(j.run, errUnread)
		return false
	}
	if j.done != nil {
		p.wait(j.done, patience)
	}
	return true
}

// wait waits for a job, and adds up the time.
func (p *Port) wait(told <-chan struct{}, patience time.Duration) {
	select {
	case <-told: // mostly at once
		return
	default:
	}
	began := time.Now()
	t := time.NewTimer(patience)
	defer t.Stop()
	in := false
	select {
	case <-told:
		in = true
	case <-t.C:
	case <-p.quit:
	}
	p.mu.Lock()
	p.waited += time.Since(began)
	p.stalled = p.stalled || !in
	p.mu.Unlock()
}

func (p *Port) countLost(run int, why error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.count(run, &p.lost)
	if p.cause == nil {
		p.cause = why
	}
}

// count counts a set as sent or lost, if it is of this run.
func (p *Port) count(run int, n *int) {
	if run == p.run {
		p.pending--
		*n++
	}
}

// write is the port's goroutine.
func (p *Port) write() {
	defer close(p.ended)
	for {
		select {
		case <-p.quit:
			return
		case j := <-p.queue:
			p.writeJob(j)
		}
	}
}

func (p *Port) writeJob(j job) {
	if j.done != nil {
		defer close(j.done)
	}
	if len(j.text) == 0 {
		return
	}
	p.mu.Lock()
	broken := p.broken
	p.mu.Unlock()
	if broken {
		p.countLost(j.run, nil)
		return
	}
	_, err := p.link.Write(j.text)
	p.mu.Lock()
	defer p.mu.Unlock()
	if err == nil {
		p.count(j.run, &p.sent)
		p.stalled = false
		return
	}
	p.count(j.run, &p.lost)
	stuck := errors.Is(err, link.ErrStuck)
	if stuck {
		err = errUnread
	}
	if p.cause == nil || errors.Is(p.cause, errUnread) {
		p.cause = err
	}
	p.stalled, p.broken = p.stalled || stuck, !stuck // one that is stuck may be read again
}

// Health waits until all queued sets are sent, for MaxWait at most, and tells how the run was. What is still queued
// then counts as lost.
func (p *Port) Health() harness.PortHealth {
	j := job{done: make(chan struct{})}
	select {
	case p.queue <- j:
		p.wait(j.done, MaxWait)
	default: // the queue is full
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	h := harness.PortHealth{Address: p.address, Sent: p.sent, Lost: p.lost + p.pending}
	if p.pending > 0 && p.cause == nil {
		p.cause = errUnread
	}
	if p.cause != nil {
		h.Cause = p.cause.Error()
	}
	return h
}

// Close closes the link, even if not all was read. It may be called twice.
func (p *Port) Close() error {
	var err error
	p.closing.Do(func() {
		close(p.quit)
		err = p.link.Close()
		t := time.NewTimer(MaxWait)
		defer t.Stop()
		select {
		case <-p.ended:
		case <-t.C: // a Write that does not end
		}
	})
	return err
}
