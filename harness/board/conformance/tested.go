package conformance

import (
	"fmt"
	"math"
	"time"

	"drystage/harness/board/contract"
)

// pulseTests try TEST. The first ones need a board that has had no sample since power-up, so they come before all
// other points. A board that can RESTART is restarted for each.
func pulseTests() []test {
	const timed = contract.CanTest | contract.CanRealTime
	return []test{
		{name: "TEST pulses each output of a new board, and the board's clock ends it", contract: quote("TEST", "TEST.length", "TESTED"), spec: "4, TEST", needs: contract.CanTest, extra: true, try: pulses},
		{name: "TEST with another guard word is refused", contract: quote("TEST.guard", "TESTED.refused"), spec: "4, TEST", needs: timed, extra: true, try: wrongGuard},
		{name: "TEST of no output, of no time or of too long is refused", contract: quote("TEST.channel", "TEST.length"), spec: "4, TEST", needs: timed, extra: true, try: wrongArguments},
		{name: "a sample ends TEST's pulse", contract: quote("TEST"), spec: "4, TEST", needs: timed, extra: true, try: sampleEnds},
		{name: "TEST is refused in lockstep", contract: quote("TEST", "TESTED.refused"), spec: "4, TEST", needs: timed | contract.CanLockstep, extra: true, try: notInLockstep},
		{name: "TEST is refused in flight, and until power-up", contract: quote("TEST", "TESTED.refused"), spec: "4, TEST", needs: timed, extra: true, try: notInFlight},
		{name: "TEST is refused while armed", contract: quote("TEST", "TESTED.refused"), spec: "4, TEST", needs: timed | contract.CanCommands, extra: true, try: notArmed},
	}
}

const (
	pulseLength = 40                      // ms
	pulseLate   = 100 * time.Millisecond  // by the board's clock, for a slow main loop or a busy computer
	pulseWait   = 1500 * time.Millisecond // by this computer's clock, for the end of the longest pulse
	step        = 5_000                   // us between the SYNCs that drive the time of a board without a clock of its own
)

// pulses asks for one pulse of each output that has a dummy load.
func pulses(s *tester) result {
	sent := fmt.Sprintf("HELLO, mode %d (real time), TEST of each output for %d ms", contract.RealTime, pulseLength)
	if s.Welcome.Capabilities&contract.CanRealTime == 0 {
		return result{outcome: Fail, sent: "HELLO", came: "WELCOME that offers TEST and no real time", why: "a board without a clock of its own can't end a pulse by itself: it must not offer TEST"}
	}
	if r, ok := s.newBoard(sent); !ok {
		return r
	}
	n := 0
	for c := uint8(1); c <= min(s.Welcome.Channels, contract.MaxChannels); c++ {
		if s.noLoad(c) {
			continue
		}
		n++
		p, why, old, err := s.wholePulse(c)
		switch {
		case err != nil:
			return s.failed(err, sent)
		case old:
			return p.notNew(sent)
		case why != "":
			return result{outcome: Fail, soft: true, sent: sent, came: p.String(), why: why}
		}
	}
	if n == 0 {
		return result{sent: sent, came: nothing, why: "the rig declares no dummy load for any output, so that none was asked for a pulse"}
	}
	if err := s.tickAlone(); err != nil {
		return s.failed(err, sent)
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("%d pulses of that length by the board's clock", n), why: "each output on, and off by itself"}
}

// expectRefusal sends TESTs that the board must refuse, without switching anything.
func (s *tester) expectRefusal(sent, must string, guard uint32, tests ...contract.Test) result {
	r := result{outcome: Pass, sent: sent, why: "refused, and nothing moved"}
	for _, m := range tests {
		p, err := s.sendTest(m, guard)
		if err != nil {
			return s.failed(err, sent)
		}
		r.came = p.String()
		if p.answer.Refused == contract.TestObeyed || len(p.edges) > 0 {
			r.outcome, r.why = Fail, must
			return r
		}
	}
	if err := s.tickAlone(); err != nil {
		return s.failed(err, sent)
	}
	return r
}

func wrongGuard(s *tester) result {
	sent := "TEST with a guard word of which one bit is wrong, then with none"
	if r, ok := s.newBoard(sent); !ok {
		return r
	}
	const must = "the board obeys a TEST of another run: it must look at the guard word"
	m := contract.Test{Channel: s.loadedChannel(), Length: pulseLength}
	if r := s.expectRefusal(sent, must, 1<<9, m); r.outcome != Pass {
		return r
	}
	return s.expectRefusal(sent, must, s.Nonce^contract.TestGuard, m)
}

func wrongArguments(s *tester) result {
	sent := fmt.Sprintf("TEST of channels 0 and %d, then for 0 and %d ms", s.Welcome.Channels+1, contract.TestMost+1)
	if r, ok := s.newBoard(sent); !ok {
		return r
	}
	return s.expectRefusal(sent, "a TEST that makes no sense must not be obeyed", 0,
		contract.Test{Channel: 0, Length: pulseLength}, contract.Test{Channel: s.Welcome.Channels + 1, Length: pulseLength},
		contract.Test{Channel: s.loadedChannel(), Length: 0}, contract.Test{Channel: s.loadedChannel(), Length: contract.TestMost + 1})
}

func notInLockstep(s *tester) result {
	sent := "HELLO, mode 0 (lockstep), TEST"
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	if r, ok := s.allOff(sent); !ok {
		return r
	}
	return s.expectRefusal(sent, "in lockstep no clock ends a pulse when the host falls silent: the board must refuse", 0, contract.Test{Channel: s.loadedChannel(), Length: pulseLength})
}

// sampleEnds sends a sample during the longest pulse.
func sampleEnds(s *tester) result {
	sent := fmt.Sprintf("TEST of an output for %d ms, and a sample behind it", contract.TestMost)
	if r, ok := s.newBoard(sent); !ok {
		return r
	}
	p, err := s.sendTest(contract.Test{Channel: s.loadedChannel(), Length: contract.TestMost}, 0)
	if err != nil {
		return s.failed(err, sent)
	}
	if p.answer.Refused != contract.TestObeyed {
		return p.notNew(sent)
	}
	if err := s.tick(); err != nil {
		return s.failed(err, sent)
	}
	if err := s.awaitEnd(&p); err != nil {
		return s.failed(err, sent)
	}
	r := result{outcome: Pass, sent: sent, came: p.String(), why: "dark at once"}
	if len(p.edges) < 2 || time.Duration(p.edges[1].Time-p.edges[0].Time)*time.Microsecond > time.Duration(contract.TestMost)*time.Millisecond*4/5 {
		r.outcome, r.why, r.soft = Fail, "whoever sends samples is about to fly: the pulse must end at once", true
	}
	return r
}

// notInFlight sends TEST one second after an unarmed liftoff, and again in the next run.
func notInFlight(s *tester) result {
	sent := "samples to a second behind liftoff, TEST; BYE, HELLO, TEST"
	if r, ok := s.newBoard(sent); !ok {
		return r
	}
	s.samples.launch = leastPad
	for range int((leastPad + 1) * s.opt.Rates.IMU) {
		if err := s.paced(nil); err != nil {
			return s.failed(err, sent)
		}
	}
	m := contract.Test{Channel: s.loadedChannel(), Length: pulseLength}
	r := s.expectRefusal(sent, "the board obeys TEST in flight: it would fire whatever hangs there", 0, m)
	if r.outcome != Pass {
		return r
	}
	s.mode = contract.RealTime
	err := s.begin()
	s.mode = contract.Lockstep
	if err != nil {
		return s.failed(err, sent)
	}
	return s.expectRefusal(sent, "the board obeys TEST after it has been flown: only power-up makes it new", 0, m)
}

// notArmed arms the board on the pad and sends TEST.
func notArmed(s *tester) result {
	sent := "COMMAND arm, on the pad, again until DONE says armed; TEST"
	if r, ok := s.newBoard(sent); !ok {
		return r
	}
	if err := s.set(); err != nil {
		return s.failed(err, sent)
	}
	s.samples.launch = math.Inf(1)
	every := int(leastArm / 4 * s.opt.Rates.IMU) // a command that comes too late is dropped by the board
	for k := 1; k < int((leastArm+armLimit)*s.opt.Rates.IMU) && s.done.Armed == 0; k++ {
		var more func() []byte
		if k%every == 0 {
			more = func() []byte { return s.command(contract.Arm) }
		}
		if err := s.paced(more); err != nil {
			return s.failed(err, sent)
		}
	}
	if s.done.Armed == 0 {
		return result{sent: sent, came: "no DONE with armed 1", why: "it did not arm, so that nothing shows what it would do armed" + logQuote(fmt.Sprint(s.monitor.logs))}
	}
	return s.expectRefusal(sent, "the board obeys TEST while armed: it would fire whatever hangs there", 0, contract.Test{Channel: s.loadedChannel(), Length: pulseLength})
}
