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

// RealTime is a Board in real time, with a clock of its own, at the other end of a link. An exchange sends what is
// due and takes what has come; it does not wait. The handshake is made while the run goes on. Until it is over the
// board gets no samples, as while it boots.
//
// Ten times a second the board is asked for its clock and its outputs. If one of these questions, or a step of the
// handshake, has no answer within the time-out, the exchange fails, whatever else the board sends.
//
// The link's Write must end in bounded time when the board does not read.
type RealTime struct {
	c     *Client
	clock func() sim.Time
	inbox *inbox

	phase     phase
	setting   int        // index of the setting whose ACCEPT is awaited
	nextHello sim.Time   // when to send HELLO again
	askedAt   sim.Time   // when SYNC was last sent
	questions []question // not yet answered

	since    struct{ asked, done, synced progress } // the last step of the handshake, and the last answers
	foreign  error                                  // a WELCOME with another nonce
	budgetAt sim.Time                               // when the budget of bytes was last increased

	arrived sim.Time // of the present bytes
	stamp   sim.Time // of the present edge
	basis   harness.Basis

	bay          int // index of its bay
	life         int
	armed        bool            // by the last DONE
	countsBefore contract.Counts // at the last power-off or restart
	ownRestarts  int             // restarts by itself in this run
}

// phase is how far the handshake has come.
type phase uint8

const (
	unpowered      phase = iota // without power
	greeting                    // HELLO is repeated
	makingSettings              // settings are being made
	running
)

// question is a SYNC and a TICK sent together; the contract's time identifies them.
type question struct {
	time         uint32
	sent         sim.Time
	permission   int           // permission to be armed at that time
	cpuWait      time.Duration // cpuWait at that time
	done, synced bool          // answered
}

// progress is what had been received at a time.
type progress struct {
	at            sim.Time
	bytes, frames int
}

const (
	askEvery     = 100 * sim.Millisecond
	maxQuestions = 64        // most open questions; then the oldest is given up
	maxFlow      = 256 << 10 // bytes per second in the long term; 2 Mbaud carries less
)

var _ Board = (*RealTime)(nil)

// NewRealTime makes a board in real time; clock is the pacer's time of the run.
func NewRealTime(l link.Link, b harness.Board, bay *sim.Bay, opt Options, clock func() sim.Time) *RealTime {
	t := &RealTime{c: NewClient(l, b, bay, opt), clock: clock, inbox: newInbox(l, clock), questions: make([]question, 0, maxQuestions)}
	t.c.mode = contract.RealTime
	t.c.setAnswerLimit(b.Answer)
	t.c.setEdgeTime = t.setEdgeTime
	return t
}

// setEdgeTime sets the basis of an edge's time: for now, when its message arrived.
func (t *RealTime) setEdgeTime(e *harness.Edge) {
	e.Came, e.Stamp, e.Life, e.Basis = t.arrived, t.stamp, t.life, t.basis
	if e.Basis == harness.ByTick {
		e.Within = EdgeUncertainty(&t.c.bay.Sensors)
	} else {
		e.At = t.arrived
	}
}

// Health gives what is known so far.
func (t *RealTime) Health() harness.Health { return t.c.Health() }

// Close sends BYE and closes the link.
func (t *RealTime) Close() error {
	if t.c.isClosed {
		return nil
	}
	err := t.c.Close()
	t.inbox.close()
	return err
}

// Exchange sends what the frame holds, and takes what has come since the last call.
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
		err = t.receiveAll(f, r)
	}
	if err == nil {
		err = t.checkOverdue()
	}
	c.reportHealth(f, r)
	if err != nil {
		c.failed = fmt.Errorf("board: at %s: %w", f.Now, err)
	}
	return c.failed
}

// send is the time-critical part.
func (t *RealTime) send(f *sim.Frame, r *harness.Reply) error {
	c, now := t.c, t.clock()
	c.now, t.bay = contract.Micros(f.Now), f.Bay
	switch {
	case !f.Powered:
		return t.supplyOff(f, r)
	case t.phase != running && f.Commands != 0:
		return fmt.Errorf("an operator's command is due, and the handshake is not over; command later, or let the board start faster: %w", t.missingAnswer())
	case t.phase == unpowered:
		t.phase, t.nextHello, t.foreign = greeting, now, nil
		t.since.asked = t.progressAt(now)
		c.hellos++
		c.session.Reset(c.nonce())
		fallthrough
	case t.phase == greeting:
		return t.sayHello(now)
	case t.phase == makingSettings:
		return nil
	}
	return t.sendSamples(f, now)
}

// sayHello sends HELLO every so often.
func (t *RealTime) sayHello(now sim.Time) error {
	if now < t.nextHello {
		return nil
	}
	c := t.c
	t.nextHello = now + sim.Time(session.HelloEvery)
	c.now = contract.Micros(now)
	m := c.greeting()
	return c.session.Hello(&m)
}

// sendSamples sends the samples, and the questions that are due.
func (t *RealTime) sendSamples(f *sim.Frame, now sim.Time) error {
	c, ask := t.c, now-t.askedAt >= askEvery
	if !f.Due && !ask {
		return nil
	}
	if err := c.checkAble(f); err != nil {
		return err
	}
	if f.Skew != 0 {
		return fmt.Errorf("%w: its clock is to run wrong, and in real time that clock is its own; a fault of the clock needs lockstep", ErrUnable)
	}
	c.line.startShadow(&f.Line, c.session.LastSent, c.direct.skipped)
	out := c.session.LastSent[:0]
	if ask { // first, so that nothing delays it
		t.askedAt = now
		out = c.session.Enc.Sync(out, &contract.Sync{Time: c.now})
	}
	out = c.commands(c.samples(out, f), f)
	if ask {
		out = c.session.Enc.Tick(out, &contract.Tick{Time: c.now})
		t.addQuestion(c.now)
	}
	return c.session.Send(out)
}

// addQuestion notes a question to the board.
func (t *RealTime) addQuestion(at uint32) {
	if len(t.questions) == maxQuestions {
		t.c.countUnanswered(1, t.questions[0].sent)
		t.questions = append(t.questions[:0], t.questions[1:]...)
	}
	t.questions = append(t.questions, question{time: at, sent: t.clock(), cpuWait: t.c.cpuWait(false), permission: t.c.permission.valid})
}

// supplyOff tells the board, once, that its supply has failed.
func (t *RealTime) supplyOff(f *sim.Frame, r *harness.Reply) error {
	if t.phase == unpowered {
		return nil
	}
	c := t.c
	t.switchedOff()
	t.arrived, t.stamp, t.basis = t.clock(), 0, harness.ByTick // the bench switches it off
	if c.health.Boots == 0 {                                   // its capabilities are unknown yet
		c.session.Welcome.Capabilities |= contract.CanRestart
	}
	c.connected = true // so that RESTART is sent even while it boots
	return c.supplyOff(f, r)
}

// switchedOff ends everything that belongs to the present start of the board.
func (t *RealTime) switchedOff() {
	t.giveUpQuestions(t.c.answerTimeout())
	t.phase, t.countsBefore, t.armed = unpowered, t.c.session.Dec.Counts, false
	t.c.switchedOn = 0
}

// receiveAll evaluates all that has come.
func (t *RealTime) receiveAll(f *sim.Frame, r *harness.Reply) error {
	now, c := t.clock(), t.c
	c.session.Budget = min(session.MaxBytes, c.session.Budget+int(maxFlow*(now-t.budgetAt)/sim.Second))
	for t.budgetAt = now; ; {
		p := t.inbox.next()
		if p == nil {
			return nil
		}
		t.arrived = p.came
		err := t.receive(p, f, r)
		if err == nil {
			err = p.err
		}
		c.session.Unread() // after an error, before the chunk is used again
		t.inbox.done(p)
		if err != nil {
			return err
		}
	}
}

func (t *RealTime) receive(p *chunk, f *sim.Frame, r *harness.Reply) error {
	c := t.c
	if err := c.session.Feed(p.bytes); err != nil {
		return fmt.Errorf("%w, or than %d in a second for long", err, maxFlow)
	}
	for {
		m, ok := c.session.Frame()
		if !ok {
			return nil
		}
		if err := t.receiveFrame(m, f, r); err != nil {
			return err
		}
	}
}

func (t *RealTime) progressAt(at sim.Time) progress {
	return progress{at, t.c.session.Bytes, t.c.session.Frames}
}

// longestWait gives the answer that has been missing for the longest time, and since when.
func (t *RealTime) longestWait() (contract.Code, progress) {
	switch {
	case t.phase == makingSettings:
		return contract.CodeAccept, t.since.asked
	case t.phase != running:
		return contract.CodeWelcome, t.since.asked
	case t.since.done.at < t.since.synced.at:
		return contract.CodeDone, t.since.done
	}
	return contract.CodeSynced, t.since.synced
}

// checkOverdue fails if an answer has been missing for too long.
func (t *RealTime) checkOverdue() error {
	_, since := t.longestWait()
	patience := t.c.opt.Timeout
	if t.phase == greeting && t.c.opt.SupplySwitched {
		patience += t.c.opt.Boot
	}
	if t.phase == unpowered || t.clock()-since.at < sim.Time(patience) {
		return nil
	}
	return t.c.explainSilence(t.missingAnswer())
}

// missingAnswer says what has not come.
func (t *RealTime) missingAnswer() error {
	want, since := t.longestWait()
	if t.phase == greeting && t.foreign != nil {
		return t.foreign
	}
	return session.Silence(want, t.c.session.Bytes-since.bytes, t.c.session.Frames-since.frames)
}
