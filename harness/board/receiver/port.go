// Package receiver lets the GNSS receivers of boards speak in NMEA 0183 on ports of their own, beside the
// contract: what goes out is the fix as it is sent, with all that faults did to it. A port never
// keeps a run waiting for longer than its patience; one that nobody reads is named afterwards.
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
	// MaxWait is how long a port that takes nothing may keep a run in lockstep waiting, and how long its
	// end is waited for. One that takes what its line can carry is waited for all the same, but never makes
	// a run slower than the flight itself by more than this.
	MaxWait = time.Second
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
	run        int // which one it is
	sent, lost int // of this run
	under      int // sets of this run that are handed over, and neither out nor lost
	cause      error
	broken     bool          // the link failed
	stuck      bool          // it took nothing for Patience, nor anything since
	waited     time.Duration // for it, in this run
}

// job is a set of sentences; told is closed when the link has taken it or failed.
type job struct {
	run  int
	text []byte
	told chan struct{}
}

// Check says what is wrong with the form of an address. exec: is refused, since a program would be taken for
// a board.
func Check(address string) error {
	if strings.HasPrefix(address, "exec:") {
		return fmt.Errorf("receiver: %s: a port starts no program; use serial:PORT?baud=N, unix:PATH or tcp:HOST:PORT", address)
	}
	return link.Check(address)
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
	p.run++
	p.sent, p.lost, p.under, p.waited = 0, 0, 0, 0
	if !p.broken {
		p.cause = nil
	}
}

// say hands a set over at a time of the run, and says whether there was room for it. With wait it returns
// when the link has taken the set, as far as its patience goes.
func (p *Port) say(text []byte, now sim.Time, wait bool) bool {
	p.mu.Lock()
	j := job{run: p.run, text: text}
	p.under++
	broken, patience := p.broken, min(MaxWait, MaxWait+time.Duration(now)-p.waited)
	if p.stuck {
		patience = 0
	}
	p.mu.Unlock()
	if broken {
		p.lose(j.run, nil)
		return false
	}
	if wait && patience > 0 {
		j.told = make(chan struct{})
	}
	select {
	case p.queue <- j:
	default:
		p.lose(j.run, errUnread)
		return false
	}
	if j.told != nil {
		p.wait(j.told, patience)
	}
	return true
}

// wait waits for a job, and adds up how long that took.
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
	p.stuck = p.stuck || !in
	p.mu.Unlock()
}

func (p *Port) lose(run int, why error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.settle(run, &p.lost)
	if p.cause == nil {
		p.cause = why
	}
}

// settle counts a set among those out or lost, if it is of this run.
func (p *Port) settle(run int, n *int) {
	if run == p.run {
		p.under--
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
		p.lose(j.run, nil)
		return
	}
	_, err := p.link.Write(j.text)
	p.mu.Lock()
	defer p.mu.Unlock()
	if err == nil {
		p.settle(j.run, &p.sent)
		p.stuck = false
		return
	}
	p.settle(j.run, &p.lost)
	if p.cause == nil || errors.Is(p.cause, errUnread) {
		p.cause = err
	}
	p.broken = true
}

// Health waits until all that was handed over is out, for Patience at most, and tells how the run was.
// What has not left by then counts as lost.
func (p *Port) Health() harness.PortHealth {
	j := job{told: make(chan struct{})}
	select {
	case p.queue <- j:
		p.wait(j.told, MaxWait)
	default: // it has been full for a while
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	h := harness.PortHealth{Address: p.address, Sent: p.sent, Lost: p.lost + p.under}
	if p.under > 0 && p.cause == nil {
		p.cause = errUnread
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
		t := time.NewTimer(MaxWait)
		defer t.Stop()
		select {
		case <-p.ended:
		case <-t.C: // a link whose Write nothing ends
		}
	})
	return err
}
