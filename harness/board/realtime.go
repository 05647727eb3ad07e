package board

import (
	"context"
	"fmt"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/session"
	"drystage/sim"
)

// RealTime is a Board with a clock of its own, at the other end of a link, in real time: an exchange sends
// what is due and takes what has come, and waits for nothing. It shakes hands while the run goes on;
// until that is over, the board is given no samples, as a board that boots takes none.
//
// Ten times a second it asks for the board's clock and for the state of its outputs. A board that for
// the time-out leaves one of these without an answer, or a part of the handshake, has failed, whatever
// else it says meanwhile.
//
// It relies on the link's Write to end in bounded time when the board stops reading.
type RealTime struct {
	c     *Client
	clock func() sim.Time
	inbox *inbox

	phase   phase
	setting int        // index of the setting that waits for its ACCEPT
	hello   sim.Time   // when to say HELLO again
	asked   sim.Time   // when its clock was last asked for
	sent    []question // not yet answered

	since struct{ asked, done, synced mark } // when the handshake last got on, and each answer last came
	other error                              // WELCOME for somebody else
	fed   sim.Time                           // when the budget of bytes was last filled up

	came  sim.Time // of the bytes being looked at
	stamp sim.Time // of the edge being looked at
	basis harness.Basis

	seat   int // of its bay
	life   int
	armed  bool            // as the last DONE said
	before contract.Counts // when the last life ended
	alone  int             // restarts of its own in this run
}

// phase is how far the handshake has come.
type phase uint8

const (
	asleep   phase = iota // without power
	greeting              // HELLO is said
	settling              // settings are being made
	flying
)

// question is a SYNC and a TICK under way; the contract's time names them.
type question struct {
	time         uint32
	sent         sim.Time
	consent      int           // see there
	waited       time.Duration // by the board's program, for a processor, until then
	done, synced bool          // answered
}

// mark is how far the board's talk had come at a time.
type mark struct {
	at            sim.Time
	bytes, frames int
}

const (
	askEvery  = 100 * sim.Millisecond
	questions = 64        // under way at most; the oldest is given up
	flow      = 256 << 10 // bytes a second, for long; 2 Mbaud carries less
)

var _ Board = (*RealTime)(nil)

// NewRealTime makes a board in real time; clock is the time of the run, of the pacer that paces it.
func NewRealTime(l link.Link, b harness.Board, bay *sim.Bay, opt Options, clock func() sim.Time) *RealTime {
	t := &RealTime{c: NewClient(l, b, bay, opt), clock: clock, inbox: newInbox(l, clock), sent: make([]question, 0, questions)}
	t.c.mode = contract.RealTime
	t.c.limit(b.Answer)
	t.c.mark = t.basedOn
	return t
}

// basedOn says what an edge's time rests on: for now, when it came.
func (t *RealTime) basedOn(e *harness.Edge) {
	e.Came, e.Stamp, e.Life, e.Basis = t.came, t.stamp, t.life, t.basis
	if e.Basis == harness.ByTick {
		e.Within = EdgeUncertainty(&t.c.bay.Sensors)
	} else {
		e.At = t.came
	}
}

// Health gives what is known so far.
func (t *RealTime) Health() harness.Health { return t.c.Health() }

// Close says BYE and closes the link.
func (t *RealTime) Close() error {
	if t.c.isClosed {
		return nil
	}
	err := t.c.Close()
	t.inbox.close()
	return err
}

// Exchange sends what the frame holds, and takes what has come in since the last one.
func (t *RealTime) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	c := t.c
	if c.usable() != nil {
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
	c.tell(f, r)
	if err != nil {
		c.failed = fmt.Errorf("board: at %s: %w", f.Now, err)
	}
	return c.failed
}

// send is the part that must not be late.
func (t *RealTime) send(f *sim.Frame, r *harness.Reply) error {
	c, now := t.c, t.clock()
	c.now, t.seat = contract.Micros(f.Now), f.Bay
	switch {
	case !f.Powered:
		return t.supplyOff(f, r)
	case t.phase != flying && f.Commands != 0:
		return fmt.Errorf("an operator's command is due, and the handshake is not over; command later, or let the board start faster: %w", t.missing())
	case t.phase == asleep:
		t.phase, t.hello, t.other = greeting, now, nil
		t.since.asked = t.mark(now)
		c.hellos++
		c.session.Begin(c.nonce())
		fallthrough
	case t.phase == greeting:
		return t.greet(now)
	case t.phase == settling:
		return nil
	}
	return t.fly(f, now)
}

// greet says HELLO, now and then.
func (t *RealTime) greet(now sim.Time) error {
	if now < t.hello {
		return nil
	}
	c := t.c
	t.hello = now + sim.Time(session.HelloEvery)
	c.now = contract.Micros(now)
	m := c.greeting()
	return c.session.Hello(&m)
}

// fly sends the samples, and asks what is to be asked.
func (t *RealTime) fly(f *sim.Frame, now sim.Time) error {
	c, ask := t.c, now-t.asked >= askEvery
	if !f.Due && !ask {
		return nil
	}
	if err := c.takes(f); err != nil {
		return err
	}
	if f.Skew != 0 {
		return fmt.Errorf("%w: its clock is to run wrong, and in real time that clock is its own; a fault of the clock needs lockstep", ErrUnable)
	}
	c.wire.wake(&f.Line, c.session.Out, c.direct.skipped)
	out := c.session.Out[:0]
	if ask { // first, so that nothing else delays it
		t.asked = now
		out = c.session.Enc.Sync(out, &contract.Sync{Time: c.now})
	}
	out = c.commands(c.samples(out, f), f)
	if ask {
		out = c.session.Enc.Tick(out, &contract.Tick{Time: c.now})
		t.question(c.now)
	}
	return c.session.Send(out)
}

// question notes that the board is being asked.
func (t *RealTime) question(at uint32) {
	if len(t.sent) == questions {
		t.c.unanswered(1, t.sent[0].sent)
		t.sent = append(t.sent[:0], t.sent[1:]...)
	}
	t.sent = append(t.sent, question{time: at, sent: t.clock(), waited: t.c.waited(false), consent: t.c.consent.holds})
}

// supplyOff tells the board, once, that its supply has failed.
func (t *RealTime) supplyOff(f *sim.Frame, r *harness.Reply) error {
	if t.phase == asleep {
		return nil
	}
	c := t.c
	t.asleep()
	t.came, t.stamp, t.basis = t.clock(), 0, harness.ByTick // its end is the bench's doing
	if c.health.Boots == 0 {                                // it has not said yet what it can
		c.session.Welcome.Capabilities |= contract.CanRestart
	}
	c.shaken = true // so that it is told, even while it boots
	return c.supplyOff(f, r)
}

// asleep ends a life of the board.
func (t *RealTime) asleep() {
	t.giveUp(t.c.patience())
	t.phase, t.before, t.armed = asleep, t.c.session.Dec.Counts, false
	t.c.lights = 0
}

// drain looks at all that has come.
func (t *RealTime) drain(f *sim.Frame, r *harness.Reply) error {
	now, c := t.clock(), t.c
	c.session.Budget = min(session.MaxBytes, c.session.Budget+int(flow*(now-t.fed)/sim.Second))
	for t.fed = now; ; {
		p := t.inbox.next()
		if p == nil {
			return nil
		}
		t.came = p.came
		err := t.bytesOf(p, f, r)
		if err == nil {
			err = p.err
		}
		c.session.Take() // of an error, whose bytes go back
		t.inbox.done(p)
		if err != nil {
			return err
		}
	}
}

func (t *RealTime) bytesOf(p *parcel, f *sim.Frame, r *harness.Reply) error {
	c := t.c
	if err := c.session.Feed(p.bytes); err != nil {
		return fmt.Errorf("%w, or than %d in a second for long", err, flow)
	}
	for {
		m, ok := c.session.Frame()
		if !ok {
			return nil
		}
		if err := t.take(m, f, r); err != nil {
			return err
		}
	}
}

func (t *RealTime) mark(at sim.Time) mark { return mark{at, t.c.session.Bytes, t.c.session.Frames} }

// waited gives the answer that has been waited for the longest, and since when.
func (t *RealTime) waited() (contract.Code, mark) {
	switch {
	case t.phase == settling:
		return contract.CodeAccept, t.since.asked
	case t.phase != flying:
		return contract.CodeWelcome, t.since.asked
	case t.since.done.at < t.since.synced.at:
		return contract.CodeDone, t.since.done
	}
	return contract.CodeSynced, t.since.synced
}

// overdue says that an answer has been waited for too long.
func (t *RealTime) overdue() error {
	_, since := t.waited()
	patience := t.c.opt.Timeout
	if t.phase == greeting && t.c.opt.SupplySwitched {
		patience += t.c.opt.Boot
	}
	if t.phase == asleep || t.clock()-since.at < sim.Time(patience) {
		return nil
	}
	return t.c.gone(t.missing())
}

// missing says what has not come.
func (t *RealTime) missing() error {
	want, since := t.waited()
	if t.phase == greeting && t.other != nil {
		return t.other
	}
	return session.Silence(want, t.c.session.Bytes-since.bytes, t.c.session.Frames-since.frames)
}
