package conformance

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/session"
)

// errTime says that a DONE answers another time than the TICK's.
type errTime struct{ got, want uint32 }

func (e errTime) Error() string {
	return fmt.Sprintf("DONE of %d us answers TICK of %d us", e.got, e.want)
}

// patience is how often the time-out passes, beyond itself, until a late answer is given up.
const patience = 2

// owed is a DONE that the board owes: for which TICK, and what its decoder must have counted by then.
type owed struct {
	time   uint32
	counts contract.Counts
}

// miscount is a rise of a board's counts that is not the one due.
type miscount struct {
	time                         uint32
	bad, wantBad, lost, wantLost int16
}

func (m miscount) String() string {
	return fmt.Sprintf("at %d us `bad` rose by %d where %d was due, `lost` by %d where %d was due", m.time, m.bad, m.wantBad, m.lost, m.wantLost)
}

// tester is a session with a board under test. What is sent also goes through a decoder of our own, the twin: what
// it counts and lets through is what the board must count and act on.
type tester struct {
	*session.Session
	ctx  context.Context
	opt  Options
	twin *contract.Decoder // of what is sent
	came int               // bytes while the last answer was waited for

	mode    uint8 // of the next HELLO
	met     bool
	starts  bool // RESTART was sent: the board may need a while until it hears
	unasked int  // restarts

	now     uint32
	last    uint32 // time of the last HELLO or DONE
	owed    []owed
	done    contract.Done
	based   bool            // done and seen can be compared with the next ones
	seen    contract.Counts // the twin's, at done
	anew    bool            // but not with the very next one: noise has been told already
	strange []string        // counts of the board that were not the twin's, since the point began
	mis     miscount        // the latest of them
	watch   watch

	samples samples
	flat    *flown // unarmed
	arms    *flown // armed
	taken   Latency
	slowest time.Duration // of the answers to TICK
	late    []string      // answers to TICK that came after the time-out
	seqs    []uint8       // numbers of the board's frames since the numbering is looked at
	dead    string        // why nothing more can be asked

	// What has been told already, so that it does not come back as another fault.
	unnumbered bool   // the board does not number its frames
	glows      string // outputs are on when a run begins
	neverOff   bool   // RESTART does nothing
	credulous  bool   // corrupt frames are acted on
}

func newTester(ctx context.Context, l link.Link, opt Options) *tester {
	s := &tester{Session: session.New(l), ctx: ctx, opt: opt, twin: contract.NewDecoder(contract.FromHost), samples: newSamples(opt)}
	s.Nonce, s.Sending, s.Received = opt.Seed, s.sending, s.received
	return s
}

// sending notes which TICKs among the bytes that go out are sound, so that DONE is owed.
func (s *tester) sending(out []byte) error {
	for in := out; ; {
		f, rest, ok := s.twin.Next(in)
		if !ok {
			return nil
		}
		in = rest
		if err := s.loop(f); err != nil {
			return err
		}
		var m contract.Tick
		if f.Code == contract.CodeTick && m.Decode(f.Payload) == nil {
			s.owed = append(s.owed, owed{m.Time, s.twin.Counts})
		}
	}
}

// received notes every sound frame of the board.
func (s *tester) received(f contract.Frame) {
	s.tell(f)
	if len(s.seqs) < 4*numberTicks {
		s.seqs = append(s.seqs, f.Seq)
	}
}

// watched holds a frame of the run against what is always so.
func (s *tester) watched(f contract.Frame) error {
	s.watch.frame(f, &s.Welcome, span{s.last, s.now})
	return nil
}

// exchange sends bytes and waits for the DONE of every sound TICK among them.
func (s *tester) exchange(out []byte) error {
	if err := s.Send(out); err != nil {
		return err
	}
	for began := time.Now(); len(s.owed) > 0; began = time.Now() {
		p, err := s.answer(began)
		if err != nil {
			s.owed = s.owed[:0]
			return err
		}
		due := s.owed[0]
		s.owed = append(s.owed[:0], s.owed[1:]...)
		var d contract.Done
		if err := d.Decode(p); err != nil {
			return err
		}
		s.settle(&d, due.counts)
		if d.Time != due.time {
			s.owed = s.owed[:0]
			return errTime{d.Time, due.time}
		}
	}
	return nil
}

// answer waits for a DONE, and longer than it may take: a late answer is another fault than none.
func (s *tester) answer(began time.Time) ([]byte, error) {
	p, err := s.await(contract.CodeDone, s.opt.Timeout)
	if session.NoAnswer(err) && !s.Instant {
		came := s.came
		p, err = s.await(contract.CodeDone, patience*s.opt.Timeout)
		s.came += came
		if err == nil {
			note(&s.late, "DONE came %s after TICK of %d us", round(time.Since(began)), s.owed[0].time)
			if len(s.late) == keep {
				s.dead = "the board answers too late again and again"
			}
		}
	}
	if err == nil {
		s.slowest = max(s.slowest, time.Since(began))
	}
	return p, err
}

// settle compares what the board has counted since its last DONE with what the twin has.
func (s *tester) settle(d *contract.Done, c contract.Counts) {
	if s.based && !s.anew {
		bad, lost := d.Bad-s.done.Bad, d.Lost-s.done.Lost
		wantBad, wantLost := uint16(c.Bad()-s.seen.Bad()), uint16(c.Lost-s.seen.Lost)
		if bad != wantBad || lost != wantLost {
			s.mis = miscount{d.Time, int16(bad), int16(wantBad), int16(lost), int16(wantLost)}
			s.strange = append(s.strange, s.mis.String())
		}
	}
	s.done, s.seen, s.based, s.anew = *d, c, true, false
	s.last = max(s.last, d.Time)
	s.watch.done(d, &s.Welcome, s.missing())
	s.look(d.Outputs, fmt.Sprintf("at %d us", d.Time))
}

// missing counts the frames from the board that are missing by number, if it numbers them.
func (s *tester) missing() int {
	if s.unnumbered {
		return 0
	}
	return s.Dec.Counts.Lost
}

// await waits for a frame of the wanted type, and gives its payload.
func (s *tester) await(want contract.Code, wait time.Duration) ([]byte, error) {
	from := s.Bytes
	p, err := s.Await(s.ctx, want, wait, s.watched)
	s.came = s.Bytes - from
	if errors.Is(err, session.ErrRestarted) {
		s.unasked++
		s.forget()
	}
	return p, err
}

// forget is for a board that has started anew: its counts and outputs begin anew.
func (s *tester) forget() {
	s.twin, s.based, s.owed = contract.NewDecoder(contract.FromHost), false, s.owed[:0]
	s.watch.dark()
	s.tellDark()
}

// quiet listens for a while and gives the types of the sound frames that come; none is silence.
func (s *tester) quiet(wait time.Duration) (codes []contract.Code, err error) {
	from, deadline := s.Bytes, time.Now().Add(wait)
	s.Budget = session.MaxBytes
	defer func() { s.came = s.Bytes - from }()
	for {
		f, err := s.Next(s.ctx, deadline)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return codes, nil
		}
		if err != nil {
			return codes, err
		}
		codes = append(codes, f.Code)
		_ = s.watched(f)
	}
}
