// Package outlet lets the GNSS receivers of boards speak in NMEA 0183 on ports of their own, beside the
// contract: what goes out is the fix as it is sent, with all that faults did to it. A port never
// keeps a run waiting for longer than its patience; one that nobody reads is named afterwards.
//
// It never reads from a port, never opens one twice, and never starts a program.
package outlet

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"drystage/harness"
	"drystage/harness/link"
	"drystage/sim"
)

const (
	// Patience is how long a port that takes nothing may keep a run in lockstep waiting, and how long its
	// end is waited for. One that takes what its line can carry is waited for all the same, but never makes
	// a run slower than the flight itself by more than this.
	Patience = time.Second
	// waiting is how many sets of sentences may wait for a port.
	waiting = 16
)

// errUnread is why sets are lost while the link takes nothing.
var errUnread = errors.New("nobody reads it, or its line is too slow")

// Port writes sets of sentences to a link, in order, on a goroutine of its own.
type Port struct {
	address string
	link    link.Link
	queue   chan job
	quit    chan struct{}
	ended   chan struct{}
	closing sync.Once

	mu         sync.Mutex
	sent, lost int
	cause      error
	broken     bool          // the link failed
	stuck      bool          // it took nothing for Patience, nor anything since
	waited     time.Duration // for it, in this run
}

// job is a set of sentences; told is closed when the link has taken it or failed.
type job struct {
	text []byte
	told chan struct{}
}

// Open opens the link that an address names; a serial line whose address says no speed runs at
// link.DefaultBaud. exec: is refused, since a file must not start programs.
func Open(ctx context.Context, address string) (*Port, error) {
	if err := link.Check(address); err != nil {
		return nil, err
	}
	if len(address) > 5 && address[:5] == "exec:" {
		return nil, fmt.Errorf("outlet: %s: a port starts no program; use serial:PORT?baud=N, unix:PATH or tcp:HOST:PORT", address)
	}
	l, err := link.Open(ctx, address, link.Options{})
	if err != nil {
		return nil, err
	}
	return New(l, address), nil
}

// New makes a port of a link, which is the port's from then on.
func New(l link.Link, address string) *Port {
	p := &Port{address: address, link: l, queue: make(chan job, waiting), quit: make(chan struct{}), ended: make(chan struct{})}
	go p.write()
	return p
}

// begin forgets the run before.
func (p *Port) begin() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.sent, p.lost, p.waited = 0, 0, 0
	if !p.broken {
		p.cause = nil
	}
}

// say hands a set over at a time of the run, and says whether there was room for it. With wait it returns
// when the link has taken the set, as far as its patience goes.
func (p *Port) say(text []byte, now sim.Time, wait bool) bool {
	j := job{text: text}
	p.mu.Lock()
	broken, patience := p.broken, min(Patience, Patience+time.Duration(now)-p.waited)
	if p.stuck {
		patience = 0
	}
	p.mu.Unlock()
	if broken {
		p.lose(1, nil)
		return false
	}
	if wait && patience > 0 {
		j.told = make(chan struct{})
	}
	select {
	case p.queue <- j:
	default:
		p.lose(1, errUnread)
		return false
	}
	if j.told != nil {
		p.wait(j.told, patience)
	}
	return true
}

// wait waits for a job, and adds up how long that took.
func (p *Port) wait(told <-chan struct{}, patience time.Duration) bool {
	select {
	case <-told: // mostly at once
		return true
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
	p.stuck = p.stuck || !in
	p.mu.Unlock()
	return in
}

func (p *Port) lose(n int, why error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.lost += n
	if p.cause == nil {
		p.cause = why
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
			p.take(j)
		}
	}
}

func (p *Port) take(j job) {
	if j.told != nil {
		defer close(j.told)
	}
	if len(j.text) == 0 {
		return
	}
	p.mu.Lock()
	broken := p.broken
	p.mu.Unlock()
	if broken {
		p.lose(1, nil)
		return
	}
	_, err := p.link.Write(j.text)
	p.mu.Lock()
	defer p.mu.Unlock()
	if err == nil {
		p.sent++
		p.stuck = false
		return
	}
	p.lost++
	if p.cause == nil || errors.Is(p.cause, errUnread) {
		p.cause = err
	}
	p.broken = true
}

// Health waits until all that was handed over is out, for Patience at most, and tells how the run was.
// What has not left by then counts as lost.
func (p *Port) Health() harness.PortHealth {
	j := job{told: make(chan struct{})}
	in, stuck := false, 1 // in the link
	select {
	case p.queue <- j:
		in = p.wait(j.told, Patience)
		stuck = 0 // the queue holds this one as well
	default:
	}
	left := len(p.queue) + stuck
	p.mu.Lock()
	defer p.mu.Unlock()
	h := harness.PortHealth{Address: p.address, Sent: p.sent, Lost: p.lost}
	if !in {
		h.Lost += max(left, 1)
		if p.cause == nil {
			p.cause = errUnread
		}
	}
	if p.cause != nil {
		h.Cause = p.cause.Error()
	}
	return h
}

// Close closes the link, whether all was read or not. Twice is fine.
func (p *Port) Close() error {
	var err error
	p.closing.Do(func() {
		close(p.quit)
		err = p.link.Close()
		t := time.NewTimer(Patience)
		defer t.Stop()
		select {
		case <-p.ended:
		case <-t.C: // a link whose Write nothing ends
		}
	})
	return err
}
