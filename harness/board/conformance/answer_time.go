package conformance

import (
	"fmt"
	"runtime"
	"strings"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
)

// answerTimes is how long the board took for its answers to TICK, in lockstep. What this computer and the line may have
// added is subtracted from those above the limit.
type answerTimes struct {
	over  int
	texts []string // the first few of them
}

// stopwatch measures one answer. The zero one measures nothing.
type stopwatch struct {
	asked  time.Time
	waited time.Duration // by the board's program, for a processor, until then
	logs   int
	one    bool // one TICK was sent, and its answer has not come
}

func (s *tester) startWatch() (w stopwatch) {
	if s.Instant || s.mode != contract.Lockstep {
		return w
	}
	runtime.LockOSThread() // what it waits for a processor counts too
	return stopwatch{asked: time.Now(), waited: s.waited(false), logs: s.monitor.logged}
}

func (w *stopwatch) end() {
	if !w.asked.IsZero() {
		runtime.UnlockOSThread()
	}
}

// stopWatch notes an answer that took too long; bytes is how many were sent.
func (s *tester) stopWatch(w *stopwatch, bytes int) {
	if !w.one || w.asked.IsZero() {
		return
	}
	w.one = false
	took, limit := time.Since(w.asked), s.opt.AnswerLimit
	if took <= limit {
		return
	}
	took -= link.Carries(s.link, bytes) + s.waited(true) - w.waited
	if s.opt.HostLatency != nil {
		took -= 2 * s.opt.HostLatency(w.asked)
	}
	if took <= limit {
		return
	}
	text := fmt.Sprintf("%s for TICK of %d us", round(took), s.now)
	if s.monitor.logged > w.logs {
		text += fmt.Sprintf(", in which it sent LOG %q", s.monitor.logs[len(s.monitor.logs)-1])
	}
	s.answers.over++
	note(&s.answers.texts, "%s", text)
}

// waited is how long the board's program has waited for a processor so far.
func (s *tester) waited(exact bool) time.Duration {
	if p, ok := s.link.(link.Program); ok {
		return p.Waited(exact)
	}
	return 0
}

// withinPeriod judges all answers. One late answer may have a reason that isn't known here.
func withinPeriod(s *tester) result {
	r := s.invariant(nil, s.monitor.dones, "DONE")
	switch limit := s.opt.AnswerLimit; {
	case r.outcome != Pass:
	case s.answers.over > 1:
		r.outcome, r.came = Fail, fmt.Sprintf("%d later than %s: %s", s.answers.over, limit, strings.Join(s.answers.texts, "; "))
		r.why = "in flight the next sample does not wait, and an output that is due comes that much later: let nothing block, neither a log nor a sensor"
	case s.answers.over == 1:
		r.outcome, r.came = Unsure, s.answers.texts[0]
		r.why = fmt.Sprintf("one answer took longer than %s; try again on a calm computer", limit)
	default:
		r.why = "none took longer than " + limit.String()
	}
	return r
}
