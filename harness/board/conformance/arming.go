package conformance

import (
	"fmt"
	"strings"

	"drystage/harness/board/contract"
)

func armTests() []test {
	const commanded = contract.CanLockstep | contract.CanCommands
	return []test{
		{name: "unarmed, a board stays dark through a flight and stage commands", contract: says("DONE.armed", "COMMAND.command"), spec: "5, rule 2", needs: contract.CanLockstep, try: darkUnarmed},
		{name: "COMMAND arms the board, and DONE says so", contract: says("COMMAND", "COMMAND.command", "DONE.armed"), spec: "4 and 7", needs: commanded, try: armed},
		{name: "BYE makes outputs dark and disarms", contract: says("BYE"), spec: "4, step 5", needs: contract.CanLockstep, try: byeDisarms},
		{name: "COMMAND disarms the board at once, and DONE says so", contract: says("COMMAND.command", "DONE.armed"), spec: "5, rule 9", needs: commanded, try: disarms},
		{name: "corrupt COMMANDs change nothing", contract: says("COMMAND.command", "DONE.bad"), spec: "5, rule 1", needs: commanded, try: corruptCommands},
		{name: "an armed board does nothing for a flight that comes corrupt", contract: says("DONE.bad", "DONE.outputs"), spec: "5, rule 1", needs: contract.CanLockstep, try: corruptFlight},
	}
}

// flown is what a board did in the profile of samples.
type flown struct {
	armed int // DONEs that said so
	ons   int // OUTPUTs that said on, and outputs that only DONE told
	dark  string
	logs  string
	told  told
}

const (
	askAt    = 0.1 // s: a board may want to see samples before it arms
	stageAt  = 0.3 // s, on the pad
	armTime  = 1.2 // s: as long as arming may take
	afterTop = 3.0 // s flown on after apogee
)

// fly sends a short flight straight up. Armed, the operator arms early; else he asks to stage, on the
// pad and after burnout, which an unarmed board must not do.
func (s *tester) fly(arm bool) (x flown, err error) {
	s.samples.launch = padTime
	s.watch.told = told{}
	rate := s.opt.Rates.IMU
	ons, before := s.watch.ons, s.done.Outputs
	for k := range int((padTime + apogee() + afterTop) * rate) {
		var more []byte
		switch {
		case s.Welcome.Capabilities&contract.CanCommands == 0:
		case arm && k == int(askAt*rate):
			more = s.command(contract.Arm)
		case !arm && (k == int(stageAt*rate) || k == int((padTime+burn+1.7)*rate)):
			more = s.command(contract.Stage)
		}
		if err := s.tick(more...); err != nil {
			return x, err
		}
		if s.done.Armed != 0 {
			x.armed++
		}
		if x.dark == "" && (s.done.Outputs != 0 || s.watch.ons != ons) {
			x.dark = fmt.Sprintf("at %d us outputs %016b are on, or were", s.now, s.done.Outputs)
		}
		if s.done.Outputs&^before != 0 {
			x.ons++
		}
		before = s.done.Outputs
	}
	x.ons = max(x.ons, s.watch.ons-ons)
	x.logs, x.told = strings.Join(s.watch.logs, "; "), s.watch.told
	return x, nil
}

func (s *tester) command(c uint8) []byte {
	return s.Enc.Command(nil, &contract.Command{Time: s.samples.at(), Command: c})
}

// darkUnarmed flies twice: unarmed, and armed to show that this flight makes the board do something at
// all. Without that the darkness proves little.
func darkUnarmed(s *tester) result {
	sent := fmt.Sprintf("samples of a flight to %.0f m, unarmed, with COMMAND stage twice; then the same, armed", top())
	if s.glows != "" {
		return s.cannotTell(sent)
	}
	if r, ok := s.started(true); !ok {
		return r
	}
	x, err := s.fly(false)
	if err != nil {
		return s.broke(err, sent)
	}
	s.flat = &x
	switch {
	case x.dark != "" && x.armed == 0:
		return result{outcome: Fail, sent: sent, came: x.dark, why: "an unarmed board must stay dark"}
	case x.armed > 0:
		return result{sent: sent, came: fmt.Sprintf("%d DONEs that say armed", x.armed), why: "the board armed itself, or another switch did; unarm it and try again"}
	case s.Welcome.Capabilities&contract.CanCommands == 0:
		return result{outcome: NotClaimed, lacks: contract.CanCommands, sent: sent, came: "no output on", why: "it stayed dark, but it takes no COMMAND, so that nothing shows what it would do armed"}
	}
	if r, ok := s.armedFlight(sent); !ok {
		return r
	}
	y := s.arms
	if y.ons == 0 {
		return result{sent: sent, came: "no output on, either way", why: "the board stayed dark, but armed it does nothing either: give it its outputs with --set, its nose with --axis" + quoted(y.logs)}
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("unarmed no output on; armed %d times on", y.ons), why: "dark while unarmed, in a flight that makes it fire when armed"}
}

// armedFlight flies once with the board armed, unless that has been done. A failure to come to its end
// is the result.
func (s *tester) armedFlight(sent string) (r result, ok bool) {
	if s.arms != nil {
		return r, true
	}
	if r, ok := s.started(true); !ok {
		return r, false
	}
	x, err := s.fly(true)
	if err != nil {
		return s.broke(err, sent), false
	}
	s.arms = &x
	return r, true
}

func top() float64 { _, h := motion(apogee() - 1e-9); return h }

func quoted(logs string) string {
	if logs == "" {
		return ""
	}
	return fmt.Sprintf("; it said %q", logs)
}

func armed(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm, %g s after HELLO, on the pad", askAt)
	if r, ok := s.armedFlight(sent); !ok {
		return r
	}
	switch {
	case s.arms.armed > 0:
		return result{outcome: Pass, sent: sent, came: fmt.Sprintf("%d DONEs with armed 1", s.arms.armed), why: "armed, and said so"}
	case s.arms.ons > 0:
		return result{outcome: Fail, sent: sent, came: fmt.Sprintf("no DONE with armed 1, yet outputs switched on %d times", s.arms.ons), why: "it acts as armed and says that it is not"}
	}
	return result{sent: sent, came: "no DONE with armed 1", why: "a board may refuse for reasons of its own" + quoted(s.arms.logs)}
}

// disarms arms a board on its pad, disarms it, and waits as long as arming may take: it must not come back.
func disarms(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm on the pad; COMMAND disarm once DONE says armed; %g s of samples", armTime)
	if r, ok := s.started(true); !ok {
		return r
	}
	ask, disarmed, n := int(askAt*s.opt.Rates.IMU), -1, int(armTime*s.opt.Rates.IMU)
	for k := 0; k < 2*n && (disarmed < 0 || k < disarmed+n); k++ {
		var more []byte
		switch {
		case k == ask:
			more = s.command(contract.Arm)
		case k > ask && disarmed < 0 && s.done.Armed != 0:
			more, disarmed = s.command(contract.Disarm), k
		}
		if err := s.tick(more...); err != nil {
			return s.broke(err, sent)
		}
		if disarmed >= 0 && s.done.Armed != 0 {
			return result{outcome: Fail, sent: sent, came: fmt.Sprintf("DONE says armed, %d ticks after COMMAND disarm", k-disarmed),
				why: "a board that was disarmed is armed by another COMMAND arm and by nothing else"}
		}
	}
	if disarmed < 0 {
		return result{sent: sent, came: "no DONE with armed 1", why: "a board that does not arm shows nothing of how it disarms"}
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("armed 0 from COMMAND disarm on, in %d DONEs", n), why: "disarmed at once, and stayed so"}
}

// byeDisarms ends the run of a board that has just flown, and looks at it in the next one.
func byeDisarms(s *tester) result {
	sent := "BYE, HELLO, 3 TICKs"
	if s.glows != "" {
		return s.cannotTell(sent)
	}
	last := s.done
	if r, ok := s.started(false); !ok {
		return r
	}
	if err := s.ticks(3); err != nil {
		return s.broke(err, sent)
	}
	r := result{outcome: Pass, sent: sent, came: fmt.Sprintf("armed %d, outputs %016b; before BYE armed %d, outputs %016b", s.done.Armed, s.done.Outputs, last.Armed, last.Outputs), why: "dark and disarmed"}
	switch {
	case s.done.Armed != 0 || s.done.Outputs != 0:
		r.outcome, r.why = Fail, "after BYE a board must be dark and unarmed"
	case last.Armed == 0 && last.Outputs == 0:
		r.outcome, r.why = Unsure, "it was dark and unarmed before BYE already"
		if s.Welcome.Capabilities&contract.CanCommands == 0 {
			r.outcome, r.lacks = NotClaimed, contract.CanCommands
		}
	}
	return r
}
