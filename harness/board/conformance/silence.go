package conformance

import (
	"fmt"
	"time"

	"drystage/harness/board/contract"
)

// Silence in Options.Without declares that the board's time stands still when nothing comes, as in some emulators.
const Silence uint16 = 1 << 14

const (
	silenceTime   = 5 * time.Second        // without a byte; then outputs must be off
	silenceMargin = 700 * time.Millisecond // for a timer that is polled, and a busy computer
)

func silenceTests() []test {
	return []test{{name: "outputs go off when no byte has come for 5 s", contract: "All outputs go off when no byte has come for 5 s of real time", spec: "5, rule 6",
		needs: contract.CanLockstep | contract.CanCommands, timed: true, try: silence}}
}

// silence flies the armed board until an output is on, and then sends nothing. In lockstep no pulse ends by itself
// then, since TICK drives the board's clock.
func silence(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm, a flight until an output is on, then nothing for %s, then TICK", silenceTime+silenceMargin)
	if s.onAtStart != "" {
		return s.skipOnAtStart(sent)
	}
	if s.opt.Without&Silence != 0 {
		return result{outcome: NotClaimed, lacks: Silence, sent: nothing, came: nothing, why: "declared: the board's own time stands still when nothing comes"}
	}
	if r, ok := s.untilOn(sent); !ok {
		return r
	}
	was := s.done.Outputs
	codes, err := s.listen(silenceTime + silenceMargin)
	if err != nil {
		return s.failed(err, sent)
	}
	if err := s.exchange(s.Enc.Tick(nil, &contract.Tick{Time: s.now})); err != nil {
		return s.failed(err, sent)
	}
	r := result{outcome: Pass, sent: sent, came: fmt.Sprintf("outputs %016b before, %016b after; meanwhile frames %v", was, s.done.Outputs, codes), why: "dark when the host falls silent"}
	if s.done.Outputs != 0 {
		r.outcome, r.why = Fail, "an output stays on when the cable is out: nothing would ever end its pulse"
	}
	return r
}
