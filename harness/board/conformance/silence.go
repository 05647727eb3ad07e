package conformance

import (
	"fmt"
	"time"

	"drystage/harness/board/contract"
)

// Silence stands in Options.Without for a clock of the board's own that goes on when the line is dead,
// which the time of some emulators does not.
const Silence uint16 = 1 << 14

const (
	dead   = 5 * time.Second        // without a byte, after which outputs must be off
	margin = 700 * time.Millisecond // for a timer that is read now and then, and a machine that is busy
)

func silenceTests() []test {
	return []test{{name: "outputs go off when no byte has come for 5 s", contract: "All outputs go off when no byte has come for 5 s of real time", spec: "5, rule 6",
		needs: contract.CanLockstep | contract.CanCommands, timed: true, try: silence}}
}

// silence flies the armed board until an output is on, and then pulls the cable, as far as can be done
// from here. In lockstep the board's clock of the run stands still then, so that no pulse ends by itself.
func silence(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm, a flight until an output is on, then nothing for %s, then TICK", dead+margin)
	if s.glows != "" {
		return s.cannotTell(sent)
	}
	if s.opt.Without&Silence != 0 {
		return result{outcome: NotClaimed, lacks: Silence, sent: nothing, came: nothing, why: "declared: the board's own time stands still when nothing comes"}
	}
	if r, ok := s.started(true); !ok {
		return r
	}
	rate := s.opt.Rates.IMU
	s.samples.launch = padTime
	for k := 0; s.done.Outputs == 0; k++ {
		if k > int((padTime+apogee()+afterTop)*rate) {
			return result{sent: sent, came: "no output on in the whole flight", why: "without an output that is on, nothing shows that it would go off; give the board its outputs with --set"}
		}
		var more []byte
		if k == int(askAt*rate) {
			more = s.command(contract.Arm)
		}
		if err := s.tick(more...); err != nil {
			return s.broke(err, sent)
		}
	}
	was := s.done.Outputs
	codes, err := s.quiet(dead + margin)
	if err != nil {
		return s.broke(err, sent)
	}
	if err := s.exchange(s.Enc.Tick(nil, &contract.Tick{Time: s.now})); err != nil {
		return s.broke(err, sent)
	}
	r := result{outcome: Pass, sent: sent, came: fmt.Sprintf("outputs %016b before, %016b after; meanwhile frames %v", was, s.done.Outputs, codes), why: "dark when the host falls silent"}
	if s.done.Outputs != 0 {
		r.outcome, r.why = Fail, "an output stays on when the cable is out: nothing would ever end its pulse"
	}
	return r
}
