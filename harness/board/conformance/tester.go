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

// latePatience times the time-out is how much longer a late answer is waited for.
const latePatience = 2

// pendingDone is a DONE that the board has not sent yet: the time of its TICK, and what the board must have counted
// by then.
type pendingDone struct {
	time   uint32
	counts contract.Counts
}

// miscount is a change of the board's counts that differs from the expected one.
type miscount struct {
	time                         uint32
	bad, wantBad, lost, wantLost int16
}

func (m miscount) String() string {
	return fmt.Sprintf("at %d us `bad` rose by %d where %d was due, `lost` by %d where %d was due", m.time, m.bad, m.wantBad, m.lost, m.wantLost)
}

// tester is a session with the board under test. All that is sent also goes through a shadow decoder: the board must
// count what it counts, and act on the frames that it accepts.
type tester struct {
	*session.Session
	link   link.Link
	ctx    context.Context
	opt    Options
	shadow *contract.Decoder // of what is sent
	came   int               // bytes received during the last wait

	mode        uint8 // of the next HELLO
	greeted     bool
	restarting  bool // RESTART was sent; the board may need time to boot
	ownRestarts int  // restarts that nobody asked for

	now          uint32
	last         uint32 // time of the last HELLO or DONE
	pending      []pendingDone
	done         contract.Done
	comparable   bool            // the next DONE can be compared with done and counted
	counted      contract.Counts // by the shadow decoder, at the last DONE
	skipCompare  bool            // skip one comparison: this difference has been reported
	countErrors  []string        // differences between the board's counts and the shadow decoder's in this point
	lastMiscount miscount        // the latest difference
	monitor      monitor

	samples         samples
	unarmedResult   *flightResult // unarmed
	armedResult     *flightResult // armed
	restartedResult *flightResult // restarted in flight, near time 0: what came on afterwards
	armAsked        bool          // how long the board takes to arm is known, or it doesn't arm
	armLate         float64       // s that it takes longer than one that arms at once
	onNow           bool          // the run goes on, armed, with an output on
	movedShown      string        // the outputs of a flight in which all were where SETTING had moved them
	latency         Latency
	answers         answerTimes
	slowest         time.Duration // of the answers to TICK
	late            []string      // DONEs that came after the time-out
	seqs            []uint8       // sequence numbers of the board's frames in the numbering point
	stopped         string        // why nothing more can be asked

	// Faults that have been reported. Later points do not report them again as something else.
	unnumbered     bool   // the board does not number its frames
	onAtStart      string // the outputs that are on when a run begins; empty: none
	ignoresRestart bool   // RESTART does nothing
	firesUnarmed   bool   // it fires though nobody armed it
	clockEnds      bool   // its clock does not last for hours
	ignoresDisarm  bool   // COMMAND disarm leaves it armed
	actsOnCorrupt  bool   // corrupt frames are acted on
}

func newTester(ctx context.Context, l link.Link, opt Options) *tester {
	s := &tester{Session: session.New(l), link: l, ctx: ctx, opt: opt, shadow: contract.NewDecoder(contract.FromHost), samples: newSamples(opt)}
	s.Nonce, s.Sending, s.Received = opt.Seed, s.beforeSend, s.afterReceive
	return s
}

// beforeSend records each sound TICK that is sent: the board must answer it with DONE.
func (s *tester) beforeSend(out []byte) error {
	for in := out; ; {
		f, rest, ok := s.shadow.Next(in)
		if !ok {
			return nil
		}
		in = rest
		if err := s.armingLoop(f); err != nil {
			return err
		}
		var m contract.Tick
		if f.Code == contract.CodeTick && m.Decode(f.Payload) == nil {
			s.pending = append(s.pending, pendingDone{m.Time, s.shadow.Counts})
		}
	}
}

// afterReceive sees every sound frame from the board.
func (s *tester) afterReceive(f contract.Frame) {
	s.relayOutput(f)
	if len(s.seqs) < 4*numberedTicks {
		s.seqs = append(s.seqs, f.Seq)
	}
}

// observe gives a frame of the run to the monitor.
func (s *tester) observe(f contract.Frame) error {
	s.monitor.frame(f, &s.Welcome, tickSpan{s.last, s.now})
	return nil
}

// exchange sends bytes and waits for the DONE of every sound TICK in them.
func (s *tester) exchange(out []byte) error {
	w := s.startWatch()
	defer w.end()
	if err := s.Send(out); err != nil {
		return err
	}
	w.one = len(s.pending) == 1
	for began := time.Now(); len(s.pending) > 0; began = time.Now() {
		p, err := s.awaitDone(began)
		if err != nil {
			s.pending = s.pending[:0]
			return err
		}
		s.stopWatch(&w, len(out))
		due := s.pending[0]
		s.pending = append(s.pending[:0], s.pending[1:]...)
		var d contract.Done
		if err := d.Decode(p); err != nil {
			return err
		}
		s.compareCounts(&d, due.counts)
		if d.Time != due.time {
			s.pending = s.pending[:0]
			return errTime{d.Time, due.time}
		}
	}
	return nil
}

// awaitDone waits for a DONE longer than allowed: a late answer is another fault than no answer.
func (s *tester) awaitDone(began time.Time) ([]byte, error) {
	p, err := s.await(contract.CodeDone, s.opt.Timeout)
	if session.NoAnswer(err) && !s.Instant {
		came := s.came
		p, err = s.await(contract.CodeDone, latePatience*s.opt.Timeout)
		s.came += came
		if err == nil {
			note(&s.late, "DONE came %s after TICK of %d us", round(time.Since(began)), s.pending[0].time)
			if len(s.late) == mostKept {
				s.stopped = "the board answers too late again and again"
			}
		}
	}
	if err == nil {
		s.slowest = max(s.slowest, time.Since(began))
	}
	return p, err
}

// compareCounts compares the rise of the board's counts since its last DONE with the shadow decoder's.
func (s *tester) compareCounts(d *contract.Done, c contract.Counts) {
	if s.comparable && !s.skipCompare {
		bad, lost := d.Bad-s.done.Bad, d.Lost-s.done.Lost
		wantBad, wantLost := uint16(c.Bad()-s.counted.Bad()), uint16(c.Lost-s.counted.Lost)
		if bad != wantBad || lost != wantLost {
			s.lastMiscount = miscount{d.Time, int16(bad), int16(wantBad), int16(lost), int16(wantLost)}
			s.countErrors = append(s.countErrors, s.lastMiscount.String())
		}
	}
	s.done, s.counted, s.comparable, s.skipCompare = *d, c, true, false
	if int32(d.Time-s.last) > 0 {
		s.last = d.Time
	}
	s.monitor.done(d, &s.Welcome, s.missing())
	s.checkPins(d.Outputs, fmt.Sprintf("at %d us", d.Time))
}

// missing is how many frames from the board are missing by sequence number; 0 if the board does not number its
// frames.
func (s *tester) missing() int {
	if s.unnumbered {
		return 0
	}
	return s.Dec.Counts.Lost
}

// await waits for a frame of the wanted type, and gives its payload.
func (s *tester) await(want contract.Code, wait time.Duration) ([]byte, error) {
	from := s.Bytes
	p, err := s.Await(s.ctx, want, wait, s.observe)
	s.came = s.Bytes - from
	if errors.Is(err, session.ErrRestarted) {
		s.ownRestarts++
		s.boardRestarted()
	}
	return p, err
}

// boardRestarted resets what is known of the board's counts and outputs after it has started again.
func (s *tester) boardRestarted() {
	s.shadow, s.comparable, s.pending = contract.NewDecoder(contract.FromHost), false, s.pending[:0]
	s.monitor.reset()
	s.relayAllOff()
}

// listen waits for a time and gives the types of the sound frames received; an empty list is silence.
func (s *tester) listen(wait time.Duration) (codes []contract.Code, err error) {
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
		_ = s.observe(f)
	}
}
