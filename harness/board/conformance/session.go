package conformance

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
)

var (
	errSilent    = errors.New("no answer in time")
	errFlood     = errors.New("the board does not stop talking")
	errRestarted = errors.New("the board has restarted by itself")
)

// errTime says that a DONE answers another time than the TICK's.
type errTime struct{ got, want uint32 }

func (e errTime) Error() string {
	return fmt.Sprintf("DONE of %d us answers TICK of %d us", e.got, e.want)
}

const (
	maxBytes = 64 << 10 // while one answer is waited for
	glance   = 100 * time.Millisecond
	patience = 2 // times the time-out, beyond it, that a late answer is waited for
)

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

// session is the line to a board. What is sent also goes through a decoder of our own, the twin: what
// it counts and lets through is what the board must count and act on.
type session struct {
	ctx     context.Context
	link    link.Link
	instant bool
	opt     Options

	enc    contract.Encoder
	dec    *contract.Decoder
	twin   *contract.Decoder
	buf    []byte
	in     []byte
	budget int
	came   int // bytes since the answer is waited for
	frames int // sound ones from the board, in all

	nonce   uint32
	mode    uint8 // of the next HELLO
	welcome contract.Welcome
	met     bool
	starts  bool   // RESTART was sent: the board may need a while until it hears
	alien   uint32 // the nonce of a WELCOME that answers no HELLO of ours
	aliens  int
	unasked int

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

func newSession(ctx context.Context, l link.Link, opt Options) *session {
	return &session{ctx: ctx, link: l, instant: link.Instant(l), opt: opt, dec: contract.NewDecoder(contract.FromBoard),
		twin: contract.NewDecoder(contract.FromHost), buf: make([]byte, 4096), nonce: opt.Seed, samples: newSamples(opt)}
}

// post sends bytes, and notes which TICKs among them are sound, so that DONE is owed.
func (s *session) post(out []byte) error {
	for in := out; ; {
		f, rest, ok := s.twin.Next(in)
		if !ok {
			break
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
	_, err := s.link.Write(out)
	return err
}

// exchange sends bytes and waits for the DONE of every sound TICK among them.
func (s *session) exchange(out []byte) error {
	if err := s.post(out); err != nil {
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
func (s *session) answer(began time.Time) ([]byte, error) {
	p, err := s.await(contract.CodeDone, s.opt.Timeout)
	if errors.Is(err, errSilent) && !s.instant {
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
func (s *session) settle(d *contract.Done, c contract.Counts) {
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
	s.watch.done(d, &s.welcome, s.missing())
	s.look(d.Outputs, fmt.Sprintf("at %d us", d.Time))
}

// missing counts the frames from the board that are missing by number, if it numbers them.
func (s *session) missing() int {
	if s.unnumbered {
		return 0
	}
	return s.dec.Counts.Lost
}

// await reads until a frame of the wanted type comes, and gives its payload.
func (s *session) await(want contract.Code, wait time.Duration) ([]byte, error) {
	deadline := time.Now().Add(wait)
	s.budget, s.came = maxBytes, 0
	for {
		f, rest, ok := s.dec.Next(s.in)
		s.in = rest
		if !ok {
			if err := s.read(deadline); err != nil {
				return nil, err
			}
			continue
		}
		s.frames++
		s.tell(f)
		if len(s.seqs) < 4*numberTicks {
			s.seqs = append(s.seqs, f.Seq)
		}
		if f.Code == contract.CodeWelcome {
			if mine, err := s.greeted(f.Payload, want); mine || err != nil {
				return f.Payload, err
			}
			continue
		}
		if want != contract.CodeWelcome { // what comes before WELCOME is of another life
			s.watch.frame(f, &s.welcome, span{s.last, s.now})
		}
		if f.Code == want {
			return f.Payload, nil
		}
	}
}

// greeted looks at a WELCOME: ours, one of a board that has just started, or somebody else's.
func (s *session) greeted(p []byte, want contract.Code) (mine bool, err error) {
	var w contract.Welcome
	if err := w.Decode(p); err != nil {
		return false, err
	}
	switch {
	case w.Nonce == s.nonce:
		return want == contract.CodeWelcome, nil
	case w.Nonce == 0 && want != contract.CodeWelcome && s.met && w.Boots != s.welcome.Boots:
		s.unasked++
		s.welcome.Boots = w.Boots
		s.forget()
		return false, errRestarted
	case w.Nonce != 0 && want == contract.CodeWelcome:
		s.alien = w.Nonce
		s.aliens++
	}
	return false, nil
}

// forget is for a board that has started anew: its counts and outputs begin anew.
func (s *session) forget() {
	s.twin, s.based, s.owed = contract.NewDecoder(contract.FromHost), false, s.owed[:0]
	s.watch.dark()
	s.tellDark()
}

func (s *session) read(deadline time.Time) error {
	if s.budget <= 0 {
		return fmt.Errorf("%w: more than %d bytes while one answer was waited for", errFlood, maxBytes)
	}
	for {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		now := time.Now()
		if !s.instant {
			if !now.Before(deadline) {
				return errSilent
			}
			if err := s.link.SetReadDeadline(now.Add(min(glance, deadline.Sub(now)))); err != nil {
				return err
			}
		}
		n, err := s.link.Read(s.buf)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			if s.instant {
				return errSilent
			}
			continue
		}
		s.budget -= n
		s.came += n
		s.in = s.buf[:n]
		return err
	}
}

// quiet listens for a while and gives the types of the sound frames that come; none is silence.
func (s *session) quiet(wait time.Duration) (codes []contract.Code, err error) {
	deadline := time.Now().Add(wait)
	s.budget, s.came = maxBytes, 0
	for {
		f, rest, ok := s.dec.Next(s.in)
		s.in = rest
		if ok {
			s.frames++
			codes = append(codes, f.Code)
			s.tell(f)
			s.watch.frame(f, &s.welcome, span{s.last, s.now})
			continue
		}
		if err := s.read(deadline); errors.Is(err, errSilent) {
			return codes, nil
		} else if err != nil {
			return codes, err
		}
	}
}
