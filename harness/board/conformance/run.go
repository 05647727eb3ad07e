package conformance

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/session"
	"drystage/harness/setting"
)

// Options of a run; the zero value is good.
type Options struct {
	Timeout  time.Duration     // for each answer; 0: 2 s
	Limit    time.Duration     // for all of it; 0: 5 min. What has not been tried by then is unsure
	Seed     uint32            // of the nonces
	Settings []harness.Setting // known settings of the board; sent after each handshake
	Axis     int               // of the accelerometer that points to the nose: 1, 2, 3 for x, y, z, negative to the tail; 0: 1
	Rates    contract.Rates    // of the sensors; an IMU rate that is not positive: IMU 200 Hz, BARO 50, GNSS 10, BATTERY 10
	Known    []setting.Def     // what is known of the settings of boards; tells which of Settings name an output
	Without  uint16            // capabilities that the user declares missing, such as contract.CanRestart, Reports or Silence
	Baud     int               // of the serial line, to tell its load; 0: no serial line

	AnswerLimit time.Duration                       // for the answer to TICK; 0: a period of the IMU
	HostLatency func(since time.Time) time.Duration // the greatest delay of this computer since a time; nil: always 0

	Stand Stand // the rig that the board is mounted on; nil: none

	Now func() time.Time // a clock for the response time; nil: the system's
}

// Reports in Options.Without declares that the board sends no REPORT. WELCOME does not tell this.
const Reports uint16 = 1 << 15

func (o Options) filled() Options {
	if o.Timeout <= 0 {
		o.Timeout = 2 * time.Second
	}
	if o.Limit <= 0 {
		o.Limit = 5 * time.Minute
	}
	if o.Axis == 0 || o.Axis > 3 || o.Axis < -3 {
		o.Axis = 1
	}
	if !(o.Rates.IMU > 0) {
		o.Rates = contract.Rates{IMU: 200, Baro: 50, GNSS: 10, Battery: 10}
	}
	if o.AnswerLimit <= 0 {
		o.AnswerLimit = time.Duration(float64(time.Second) / o.Rates.IMU)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return o
}

// result is the outcome of one try of a point.
type result struct {
	outcome    Outcome
	sent, came string
	why        string
	soft       bool   // noise on the line could cause this failure: try the point once more
	lacks      uint16 // the missing capability, when the point is not claimed
}

// test is a point and how to try it.
type test struct {
	name     string
	contract string
	spec     string             // section
	needs    uint16             // capabilities
	extra    bool               // these capabilities are optional: without them the point is left out
	timed    bool               // needs real time, which a link in memory does not have
	again    bool               // its result may explain earlier points that are unsure
	stand    func(Stand) bool   // needs a rig with this ability; else the point is left out
	given    func(*tester) bool // needs what the user has told of the board; else the point is left out
	whole    bool               // judges the counts or the whole session itself; noise does not make it unsure
	try      func(s *tester) result
}

// Run tries all points on the board at the other end of a link, and sends BYE at the end. The link stays open. Run
// ends in bounded time, whatever the board does.
func Run(ctx context.Context, l link.Link, opt Options) Report {
	opt = opt.filled()
	ctx, cancel := context.WithTimeout(ctx, opt.Limit)
	defer cancel()
	s := newTester(ctx, l, opt)
	var rep Report
	for _, t := range tests() {
		if s.omits(&t) {
			continue
		}
		rep.Points = append(rep.Points, s.point(t))
		if t.again && s.unnumbered {
			s.retryUnsure(tests(), rep.Points)
		}
	}
	if opt.Stand != nil {
		_ = opt.Stand.Arming(false) // the rig's owner makes it safe too
	}
	if s.greeted {
		_, _ = l.Write(s.Enc.Bye([]byte{0}, &contract.Bye{})) // the link may be gone
	}
	rep.Welcome, rep.Greeted, rep.Latency = s.Welcome, s.greeted, s.latency
	rep.Rates, rep.Baud = opt.Rates, opt.Baud
	return rep
}

// omits says that a point does not apply to this board.
func (s *tester) omits(t *test) bool {
	if t.stand != nil && (s.opt.Stand == nil || !t.stand(s.opt.Stand)) {
		return true
	}
	if s.greeted && t.given != nil && !t.given(s) {
		return true
	}
	return s.greeted && t.extra && t.needs&^s.Welcome.Capabilities != 0 || t.timed && s.Instant
}

// retryUnsure tries the unsure points again, once it is known that the board does not number its frames: then missing
// numbers mean nothing.
func (s *tester) retryUnsure(ts []test, points []Point) {
	for i := range points {
		if points[i].Outcome == Unsure {
			points[i] = s.point(ts[i])
		}
	}
}

func tests() []test {
	return slices.Concat(handshakeTests(), pulseTests(), tickTests(), damageTests(), settingTests(), rateTests(), armTests(), circuitTests(), reportTests(), silenceTests(), restartTests(), hoursTests(), assignedTests(), clockTests(), standTests(), invariantTests())
}

// point tries a point, and tries it once more if noise may have caused a failure.
func (s *tester) point(t test) Point {
	p := Point{Name: t.name, Contract: t.contract, Spec: t.spec, Sent: nothing, Came: nothing}
	if missing := t.needs &^ s.offers(); s.greeted && s.stopped == "" && missing != 0 {
		p.Outcome, p.Declared = NotClaimed, missing&^s.opt.Without == 0
		p.Why = "the board's WELCOME does not offer " + capabilities(missing)
		return p
	}
	if s.stopped != "" && !t.whole {
		p.Why = "not tried: " + s.stopped
		return p
	}
	r := s.try(t)
	if r.outcome == Fail && r.soft && s.stopped == "" {
		s.skipCompare = true
		switch again := s.try(t); {
		case again.outcome == Fail:
			r.why += "; tried once more, it was the same"
		case s.stopped == "":
			r.outcome = Unsure
			r.why += "; tried once more, it was not so: look at the line first"
		}
	}
	p.Outcome, p.Sent, p.Came, p.Why = r.outcome, r.sent, r.came, r.why
	if p.Outcome == NotClaimed {
		p.Declared = s.opt.Without&r.lacks != 0
	}
	return p
}

// try tries a point once. It does not pass if frames were lost or corrupted meanwhile.
func (s *tester) try(t test) result {
	bad, lost := s.Dec.Counts.Bad(), s.missing()
	s.countErrors = nil
	r := s.nameTheCut(t.try(s))
	if t.whole || r.outcome != Pass {
		return r
	}
	bad, lost = s.Dec.Counts.Bad()-bad, s.missing()-lost
	switch {
	case bad+lost != 0:
		r.outcome, r.why = Unsure, fmt.Sprintf("meanwhile %d frames from the board came spoilt and %d are missing; look at the line", bad, lost)
	case len(s.countErrors) > 0:
		r.outcome, r.why = Unsure, "meanwhile the board's counts were not what was sent: "+s.countErrors[0]
	}
	return r
}

// failed turns an error into a result, and stops the tests when the board can't be asked any more.
func (s *tester) failed(err error, sent string) result {
	r := result{sent: sent, came: "nothing that answers it"}
	var wrong errTime
	switch {
	case errors.Is(err, session.ErrRestarted):
		r.why = "the board restarted by itself meanwhile; look at its supply and its log"
	case session.NoAnswer(err):
		r.outcome, r.soft = Fail, true
		r.came = fmt.Sprintf("%d bytes, no answer among them", s.came)
		r.why = "no answer within " + s.opt.Timeout.String()
	case errors.As(err, &wrong):
		r.came = err.Error()
		r.why = "an answer to another TICK came; see the point on TICK and DONE"
	case errors.Is(err, session.ErrFlood):
		r.outcome = Fail
		s.stopped = err.Error()
		r.why = s.stopped
	case errors.Is(err, context.DeadlineExceeded):
		s.stopped = "the time for all points, " + s.opt.Limit.String() + ", is over"
		r.why = s.stopped
	case errors.Is(err, context.Canceled):
		s.stopped = "interrupted"
		r.why = s.stopped
	default:
		s.stopped = "the line broke: " + err.Error()
		r.why = s.stopped
	}
	return r
}

// beginRun begins a run for a point. If that fails, the point is unsure.
func (s *tester) beginRun(set bool) (r result, ok bool) {
	sent, err := "BYE, HELLO", s.begin()
	switch {
	case session.NoAnswer(err):
		s.stopped = "the board stopped answering HELLO"
	case err == nil && set:
		sent, err = "SETTING", s.set()
	}
	if err == nil {
		return r, true
	}
	r = s.failed(err, sent)
	if r.outcome = Unsure; errors.Is(err, session.ErrFlood) {
		r.outcome = Fail
	}
	r.why = "the run could not begin: " + r.why
	return r, false
}

// set sends all settings. The answers are judged by a point of their own.
func (s *tester) set() error {
	if s.Welcome.Capabilities&contract.CanSettings == 0 {
		return nil
	}
	for _, x := range s.opt.Settings {
		if _, err := s.ask(x.Name, contract.Milli(x.Value)); err != nil {
			return err
		}
	}
	return nil
}

var capabilityNames = [...]string{"lockstep", "real time", "RESTART", "SETTING", "CONTINUITY", "COMMAND", "TEST", "CIRCUITS", "MAG"}

func capabilities(bits uint16) string {
	var names []string
	for i, n := range capabilityNames {
		if bits>>i&1 != 0 {
			names = append(names, n)
		}
	}
	return strings.Join(names, ", ")
}
