package board

import (
	"context"
	"fmt"

	"drystage/harness"
	"drystage/harness/contract"
	"drystage/harness/link"
	"drystage/sim"
)

// Timed is a Board with a clock of its own, at the other end of a link, in real time: an exchange sends
// what is due and takes what has come, and waits for nothing. It shakes hands while the run goes on;
// until that is over, the board is given no samples, as a board that boots takes none.
//
// Ten times a second it asks for the board's clock and for the state of its outputs. A board that says
// nothing at all for the time-out has failed.
type Timed struct {
	c     *Client
	clock func() sim.Time
	inbox *inbox

	phase   phase
	setting int      // index of the setting that waits for its ACCEPT
	hello   sim.Time // when to say HELLO again
	heard   sim.Time // when a sound frame last came, or the board was last asked for the first time
	asked   sim.Time // when its clock was last asked for
	sent    []question
	came    sim.Time // of the bytes being looked at
	stamp   sim.Time // of the OUTPUT being looked at
	life    int
	armed   bool            // as the last DONE said
	before  contract.Counts // when the handshake began
	frames  int             // sound ones since then
	bytes   int
	alone   int // restarts of its own in this run
}

// phase is how far the handshake has come.
type phase uint8

const (
	asleep   phase = iota // without power
	greeting              // HELLO is said
	settling              // settings are being made
	flying
)

// question is a SYNC under way; the contract's time names it.
type question struct {
	time uint32
	sent sim.Time
}

const (
	askEvery  = 100 * sim.Millisecond
	questions = 64 // under way at most; the oldest is given up
)

var _ Board = (*Timed)(nil)

// NewTimed makes a board in real time; clock is the time of the run, of the pacer that paces it.
func NewTimed(l link.Link, b harness.Board, bay *sim.Bay, opt Options, clock func() sim.Time) *Timed {
	t := &Timed{c: NewClient(l, b, bay, opt), clock: clock, inbox: newInbox(l, clock), sent: make([]question, 0, questions)}
	t.c.mode = contract.RealTime
	t.c.mark = t.mark
	return t
}

// mark says what an edge's time rests on: for now, when it came.
func (t *Timed) mark(e *harness.Edge) {
	e.At, e.Came, e.Stamp, e.Life, e.Basis = t.came, t.came, t.stamp, t.life, harness.ByArrival
}

// Health gives what is known so far.
func (t *Timed) Health() harness.Health { return t.c.Health() }

// Close says BYE and closes the link.
func (t *Timed) Close() error {
	if t.c.isClosed {
		return nil
	}
	err := t.c.Close()
	t.inbox.close()
	return err
}

// Exchange sends what the frame holds, and takes what has come in since the last one.
func (t *Timed) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	c := t.c
	if c.failed == nil && c.isClosed {
		c.failed = fmt.Errorf("board: %w; open it anew", ErrClosed)
	}
	if c.failed != nil {
		return c.failed
	}
	err := ctx.Err()
	if err == nil {
		err = t.send(f, r)
	}
	if err == nil {
		err = t.drain(f, r)
	}
	if err == nil {
		err = t.overdue()
	}
	if err != nil {
		c.failed = fmt.Errorf("board: at %s: %w", f.Now, err)
	}
	return c.failed
}

// send is the part that must not be late.
func (t *Timed) send(f *sim.Frame, r *harness.Reply) error {
	c, now := t.c, t.clock()
	c.now, c.budget = contract.Micros(f.Now), maxBytes
	switch {
	case !f.Powered:
		return t.supplyOff(f, r)
	case t.phase == asleep:
		t.phase, t.hello, t.heard, t.frames, t.bytes = greeting, now, now, 0, 0
		c.hellos++
		t.before = c.dec.Counts
		c.dec.Forget()
		fallthrough
	case t.phase == greeting:
		if now < t.hello {
			return nil
		}
		t.hello = now + sim.Time(helloEvery)
		c.now = contract.Micros(now)
		m := c.greeting()
		c.out = c.enc.Hello(append(c.out[:0], 0), &m)
		return c.send()
	case t.phase != flying || !f.Due:
		return nil
	}
	if err := c.takes(f); err != nil {
		return err
	}
	if f.Skew != 0 {
		return fmt.Errorf("%w: its clock is to run wrong, and in real time that clock is its own; a fault of the clock needs lockstep", ErrUnable)
	}
	ask := now-t.asked >= askEvery
	c.wire.wake(&f.Line, c.out)
	c.out = c.out[:0]
	if ask { // first, so that nothing else delays it
		t.asked = now
		c.out = c.enc.Sync(c.out, &contract.Sync{Time: c.now})
	}
	c.out = c.commands(c.samples(c.out, f), f)
	if ask {
		c.out = c.enc.Tick(c.out, &contract.Tick{Time: c.now})
		t.question(c.now)
	}
	return c.send()
}

// question notes that the board's clock is being asked for.
func (t *Timed) question(time uint32) {
	if len(t.sent) == questions {
		copy(t.sent, t.sent[1:])
		t.sent = t.sent[:questions-1]
	}
	t.sent = append(t.sent, question{time, t.clock()})
}

func (t *Timed) supplyOff(f *sim.Frame, r *harness.Reply) error {
	was := t.phase
	t.phase, t.sent, t.came, t.stamp = asleep, t.sent[:0], t.clock(), 0
	if was == asleep {
		return nil
	}
	t.c.shaken = true // so that it is told, even while it boots
	return t.c.supplyOff(f, r)
}

// drain looks at all that has come.
func (t *Timed) drain(f *sim.Frame, r *harness.Reply) error {
	for {
		p := t.inbox.next()
		if p == nil {
			return nil
		}
		t.came = p.came
		err := t.bytesOf(p, f, r)
		if err == nil {
			err = p.err
		}
		t.inbox.done(p)
		if err != nil {
			return err
		}
	}
}

func (t *Timed) bytesOf(p *parcel, f *sim.Frame, r *harness.Reply) error {
	c := t.c
	t.bytes += len(p.bytes)
	if c.budget -= len(p.bytes); c.budget <= 0 {
		return fmt.Errorf("%w: more than %d bytes between two samples", ErrFlood, maxBytes)
	}
	for in := p.bytes; ; {
		m, rest, ok := c.dec.Next(in)
		if !ok {
			return nil
		}
		in = rest
		t.heard = t.came
		t.frames++
		if err := t.take(m, f, r); err != nil {
			return err
		}
	}
}

// overdue says that the board has been silent for too long.
func (t *Timed) overdue() error {
	now, patience := t.clock(), sim.Time(t.c.opt.Timeout)
	if t.phase == asleep || now-t.heard < patience {
		return nil
	}
	want := contract.CodeSynced
	switch t.phase {
	case greeting:
		want = contract.CodeWelcome
	case settling:
		want = contract.CodeAccept
	}
	return t.c.silence(want, t.bytes, t.frames)
}
