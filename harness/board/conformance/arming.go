package conformance

import (
	"fmt"
	"math"
	"math/bits"
	"strings"

	"drystage/harness/board/contract"
)

func armTests() []test {
	const commanded = contract.CanLockstep | contract.CanCommands
	return []test{
		{name: "unarmed, a board stays dark through a flight and stage commands", contract: quote("DONE.armed", "COMMAND.command"), spec: "5, rule 2", needs: contract.CanLockstep, try: offUnarmed},
		{name: "COMMAND arms the board, and DONE says so", contract: quote("COMMAND", "COMMAND.command", "DONE.armed"), spec: "4 and 7", needs: commanded, try: armed},
		{name: "BYE makes outputs dark and disarms", contract: quote("BYE"), spec: "4, step 5", needs: contract.CanLockstep, try: byeDisarms},
		{name: "COMMAND disarms the board at once, and DONE says so", contract: quote("COMMAND.command", "DONE.armed"), spec: "5, rule 9", needs: commanded, try: disarms},
		{name: "disarmed on the pad, a board stays dark through a flight", contract: quote("COMMAND.command", "DONE.armed"), spec: "5, rules 2 and 9", needs: commanded, try: offDisarmed},
		{name: "corrupt COMMANDs change nothing", contract: quote("COMMAND.command", "DONE.bad"), spec: "5, rule 1", needs: commanded, try: corruptCommands},
		{name: "an armed board does nothing for a flight that comes corrupt", contract: quote("DONE.bad", "DONE.outputs"), spec: "5, rule 1", needs: contract.CanLockstep, try: corruptFlight},
	}
}

// flightResult is what the board did in the short flight.
type flightResult struct {
	armed      int // DONEs that said armed
	switchedOn int // outputs switched on, by OUTPUT or by DONE alone
	on         []onEdge
	notOff     string
	logs       string
	reports    reportStats
}

// onEdge is an output that DONE shows on for the first time, at the k-th tick of the flight.
type onEdge struct {
	channel uint8
	k       int
}

// appendOn appends the outputs, a bit each, that have come on at the k-th tick.
func appendOn(all []onEdge, on uint16, k int) []onEdge {
	for ; on != 0; on &= on - 1 {
		all = append(all, onEdge{uint8(bits.TrailingZeros16(on)) + 1, k})
	}
	return all
}

const (
	armAt       = 0.1 // s; a board may need samples before it arms
	armLimit    = 8.0 // s; longest time for arming
	stageAt     = 0.3 // s, on the pad
	leastArm    = 1.2 // s; what a board that arms at once is given for it
	afterApogee = 3.0 // s of flight after apogee
)

// fly sends the short vertical flight. With arm, the operator arms early. Without, stage is commanded on the pad and
// after burnout, which an unarmed board must ignore.
func (s *tester) fly(arm bool) (flightResult, error) { return s.flyUntil(arm, math.MaxInt) }

// flyUntil ends the flight as soon as outputs have come on n times.
func (s *tester) flyUntil(arm bool, n int) (x flightResult, err error) {
	s.samples.launch = s.padTime()
	s.monitor.reports = reportStats{}
	rate := s.opt.Rates.IMU
	ons, before := s.monitor.switchedOn, s.done.Outputs
	for k := 0; k < int((s.samples.launch+apogee()+afterApogee)*rate); k++ {
		if arm {
			s.waitForArming(k)
		}
		var more []byte
		switch {
		case s.Welcome.Capabilities&contract.CanCommands == 0:
		case arm && k == int(armAt*rate):
			more = s.command(contract.Arm)
		case !arm && (k == int(stageAt*rate) || k == int((s.padTime()+burn+1.7)*rate)):
			more = s.command(contract.Stage)
		}
		if err := s.tick(more...); err != nil {
			return x, err
		}
		if s.done.Armed != 0 {
			x.armed++
		}
		if x.notOff == "" && (s.done.Outputs != 0 || s.monitor.switchedOn != ons) {
			x.notOff = fmt.Sprintf("at %d us outputs %016b are on, or were", s.now, s.done.Outputs)
		}
		if on := s.done.Outputs &^ before; on != 0 {
			x.switchedOn++
			x.on = appendOn(x.on, on, k)
		}
		if before = s.done.Outputs; len(x.on) >= n {
			break
		}
	}
	x.switchedOn = max(x.switchedOn, s.monitor.switchedOn-ons)
	x.logs, x.reports = strings.Join(s.monitor.logs, "; "), s.monitor.reports
	return x, nil
}

// waitForArming holds the launch back while the board still tests itself. What it has needed once it is given in all that
// follows. A board that doesn't arm within the limit is given no more than one that arms at once.
func (s *tester) waitForArming(k int) {
	waited := float64(k)/s.opt.Rates.IMU - armAt
	if s.armAsked || s.Welcome.Capabilities&contract.CanCommands == 0 || waited < leastArm {
		return
	}
	switch {
	case s.done.Armed != 0:
		s.armAsked = true
	case waited < armLimit:
		s.armLate = waited - leastArm + 0.2
	default:
		s.armAsked, s.armLate = true, 0
		s.samples.launch = waited + leastPad
		return
	}
	s.samples.launch = s.padTime()
}

// padTime is the time before the launch, and armTime what the board is given for arming, in s.
func (s *tester) padTime() float64 { return leastPad + s.armLate }
func (s *tester) armTime() float64 { return leastArm + s.armLate }

func (s *tester) command(c uint8) []byte {
	return s.Enc.Command(nil, &contract.Command{Time: s.samples.at(), Command: c})
}

// offUnarmed flies unarmed, and then armed. The second flight shows that this flight makes the board switch outputs
// at all; without it the first one proves little.
func offUnarmed(s *tester) result {
	sent := fmt.Sprintf("samples of a flight to %.0f m, unarmed, with COMMAND stage twice; then the same, armed", top())
	if r, ok := s.beginOff(sent); !ok {
		return r
	}
	x, err := s.fly(false)
	if err != nil {
		return s.failed(err, sent)
	}
	s.unarmedResult = &x
	switch {
	case x.notOff != "" && x.armed == 0:
		s.firesUnarmed = true
		return result{outcome: Fail, sent: sent, came: x.notOff, why: "an unarmed board must stay dark"}
	case x.armed > 0:
		return result{sent: sent, came: fmt.Sprintf("%d DONEs that say armed", x.armed), why: "the board armed itself, or another switch did; unarm it and try again"}
	case s.Welcome.Capabilities&contract.CanCommands == 0:
		return result{outcome: NotClaimed, lacks: contract.CanCommands, sent: sent, came: "no output on", why: "it stayed dark, but it takes no COMMAND, so that nothing shows what it would do armed"}
	}
	if r, ok := s.armedFlight(sent); !ok {
		return r
	}
	y := s.armedResult
	if y.switchedOn == 0 {
		return result{sent: sent, came: "no output on, either way", why: "the board stayed dark, but armed it does nothing either: give it its outputs with --set, its nose with --axis" + logQuote(y.logs)}
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("unarmed no output on; armed %d times on", y.switchedOn), why: "dark while unarmed, in a flight that makes it fire when armed"}
}

// armedFlight flies once with the board armed, and keeps the result. ok is false if the flight did not finish.
func (s *tester) armedFlight(sent string) (r result, ok bool) {
	if s.armedResult != nil {
		return r, true
	}
	if r, ok := s.beginRun(true); !ok {
		return r, false
	}
	x, err := s.fly(true)
	if err != nil {
		return s.failed(err, sent), false
	}
	s.armedResult = &x
	return r, true
}

func top() float64 { _, h := motion(apogee() - 1e-9); return h }

func logQuote(logs string) string {
	if logs == "" {
		return ""
	}
	return fmt.Sprintf("; it said %q", logs)
}

func armed(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm, %g s after HELLO, on the pad", armAt)
	if r, ok := s.armedFlight(sent); !ok {
		return r
	}
	switch {
	case s.armedResult.armed > 0:
		return result{outcome: Pass, sent: sent, came: fmt.Sprintf("%d DONEs with armed 1", s.armedResult.armed), why: "armed, and said so"}
	case s.armedResult.switchedOn > 0:
		return result{outcome: Fail, sent: sent, came: fmt.Sprintf("no DONE with armed 1, yet outputs switched on %d times", s.armedResult.switchedOn), why: "it acts as armed and says that it is not"}
	}
	return result{sent: sent, came: "no DONE with armed 1", why: "a board may refuse for reasons of its own" + logQuote(s.armedResult.logs)}
}

// disarms arms the board on the pad, disarms it, and waits as long as arming may take: it must stay disarmed.
func disarms(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm on the pad; COMMAND disarm once DONE says armed; %g s of samples", s.armTime())
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	ask, disarmed, n := int(armAt*s.opt.Rates.IMU), -1, int(s.armTime()*s.opt.Rates.IMU)
	for k := 0; k < 2*n && (disarmed < 0 || k < disarmed+n); k++ {
		var more []byte
		switch {
		case k == ask:
			more = s.command(contract.Arm)
		case k > ask && disarmed < 0 && s.done.Armed != 0:
			more, disarmed = s.command(contract.Disarm), k
		}
		if err := s.tick(more...); err != nil {
			return s.failed(err, sent)
		}
		if disarmed >= 0 && s.done.Armed != 0 {
			s.ignoresDisarm = true
			return result{outcome: Fail, sent: sent, came: fmt.Sprintf("DONE says armed, %d ticks after COMMAND disarm", k-disarmed),
				why: "a board that was disarmed is armed by another COMMAND arm and by nothing else"}
		}
	}
	if disarmed < 0 {
		return result{sent: sent, came: "no DONE with armed 1", why: "a board that does not arm shows nothing of how it disarms"}
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("armed 0 from COMMAND disarm on, in %d DONEs", n), why: "disarmed at once, and stayed so"}
}

// byeDisarms sends BYE after a flight, and checks the board in the next run.
func byeDisarms(s *tester) result {
	sent := "BYE, HELLO, 3 TICKs"
	if s.onAtStart != "" {
		return s.skipOnAtStart(sent)
	}
	last := s.done
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	if err := s.ticks(3); err != nil {
		return s.failed(err, sent)
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
