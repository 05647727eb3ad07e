package conformance

import (
	"fmt"
	"math"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

// pulseTests try TEST. The first ones need a board that has not been given a sample since power-up, so
// they come before all others; a board that can RESTART is made new for each.
func pulseTests() []test {
	const timed = contract.CanTest | contract.CanRealTime
	return []test{
		{name: "TEST pulses each output of a new board, and the board's clock ends it", contract: says("TEST", "TEST.length", "TESTED"), spec: "4, TEST", needs: contract.CanTest, extra: true, try: pulses},
		{name: "TEST with another guard word is refused", contract: says("TEST.guard", "TESTED.refused"), spec: "4, TEST", needs: timed, extra: true, try: guarded},
		{name: "TEST of no output, of no time or of too long is refused", contract: says("TEST.channel", "TEST.length"), spec: "4, TEST", needs: timed, extra: true, try: sensible},
		{name: "a sample ends TEST's pulse", contract: says("TEST"), spec: "4, TEST", needs: timed, extra: true, try: sampleEnds},
		{name: "TEST is refused in lockstep", contract: says("TEST", "TESTED.refused"), spec: "4, TEST", needs: timed | contract.CanLockstep, extra: true, try: notInLockstep},
		{name: "TEST is refused in flight, and until power-up", contract: says("TEST", "TESTED.refused"), spec: "4, TEST", needs: timed, extra: true, try: notInFlight},
		{name: "TEST is refused while armed", contract: says("TEST", "TESTED.refused"), spec: "4, TEST", needs: timed | contract.CanCommands, extra: true, try: notArmed},
	}
}

const (
	pulseLength = 40                      // ms
	pulseLate   = 100 * time.Millisecond  // by the board's clock: its main loop may be slow, a computer busy
	pulseWait   = 1500 * time.Millisecond // by ours, for the end of the longest pulse
	step        = 5_000                   // us between the SYNCs to a board whose time stands still when nothing comes
)

// pulse is what came of a TEST.
type pulse struct {
	answer contract.Tested
	edges  []contract.Output
}

func (p *pulse) String() string {
	text := fmt.Sprintf("TESTED, channel %d, refused %d", p.answer.Channel, p.answer.Refused)
	for _, e := range p.edges {
		text += fmt.Sprintf("; OUTPUT %d %s at %d us", e.Channel, [2]string{"off", "on"}[min(e.On, 1)], e.Time)
	}
	return text
}

// fresh begins a run in real time on a board that is new, as far as it can be made so from here.
func (s *tester) fresh(sent string) (r result, ok bool) {
	s.mode = contract.RealTime
	defer func() { s.mode = contract.Lockstep }()
	var err error
	if s.offers()&contract.CanRestart != 0 {
		if err = s.restart(); err == nil {
			r, ok = s.restarted(sent, 0)
		}
	} else if err = s.begin(); err == nil {
		ok = true
	}
	if err != nil {
		r = s.broke(err, sent)
		r.outcome = Unsure
	}
	s.watch.dark()
	s.samples.reset()
	s.watch.free = true // until the next run begins
	if ok {
		r, ok = s.dark(sent)
	}
	return r, ok
}

// dark says that nothing is on before TEST has asked for anything.
func (s *tester) dark(sent string) (r result, ok bool) {
	if err := s.tally(); err != nil {
		return s.broke(err, sent), false
	}
	if s.done.Outputs != 0 {
		return result{sent: sent, came: fmt.Sprintf("outputs %016b on before that", s.done.Outputs), why: "see the point on what is dark when a run begins"}, false
	}
	return r, true
}

// pulsed sends a TEST with the guard word of this run, changed where change says so, and waits for its
// answer.
func (s *tester) pulsed(m contract.Test, change uint32) (p pulse, err error) {
	m.Nonce, m.Guard = s.Nonce*3+uint32(m.Channel), s.Nonce^contract.TestGuard^change
	s.watch.pulse = nil
	if err := s.Send(s.Enc.Test(nil, &m)); err != nil {
		return p, err
	}
	b, err := s.await(contract.CodeTested, s.opt.Timeout)
	if err == nil {
		err = p.answer.Decode(b)
	}
	if err == nil && p.answer.Nonce != m.Nonce {
		err = fmt.Errorf("%w: TESTED has nonce %08x, TEST had %08x", session.ErrSilent, p.answer.Nonce, m.Nonce)
	}
	p.edges = s.watch.pulse
	return p, err
}

// ended waits for the end of a pulse. It says nothing meanwhile, but to a board whose time would then
// stand still.
func (s *tester) ended(p *pulse) error {
	over := func() bool {
		p.edges = s.watch.pulse
		return len(p.edges) >= 2
	}
	talks := s.Instant || s.opt.Without&Silence != 0
	for deadline := time.Now().Add(pulseWait); !over() && (s.Instant || time.Now().Before(deadline)); {
		if !talks {
			if _, err := s.await(contract.CodeOutput, time.Until(deadline)); err != nil && !session.NoAnswer(err) {
				return err
			}
			continue
		}
		if s.now += step; s.now > math.MaxInt32/2 {
			break
		}
		if err := s.Send(s.Enc.Sync(nil, &contract.Sync{Time: s.now})); err != nil {
			return err
		}
		if _, err := s.await(contract.CodeSynced, s.opt.Timeout); err != nil {
			return err
		}
		if s.Instant && s.now > uint32(pulseWait.Microseconds()) {
			break
		}
	}
	over()
	return nil
}

// tally asks, without a sample, for what the board has counted: all that was sent must have come over.
func (s *tester) tally() error {
	return s.exchange(s.Enc.Tick(nil, &contract.Tick{Time: s.now}))
}

// wrong says what is wrong with a pulse that should have been obeyed; old is for a board that is not new.
func (p *pulse) wrong(channel uint8) (why string, old bool) {
	switch a := &p.answer; {
	case a.Refused == contract.TestTouched || a.Refused == contract.TestBusy:
		return "", true
	case a.Refused != contract.TestObeyed:
		return fmt.Sprintf("a board that offers TEST refuses it with %d while it is new, unarmed and dark", a.Refused), false
	case a.Channel != channel:
		return fmt.Sprintf("TESTED names channel %d, TEST had %d", a.Channel, channel), false
	case len(p.edges) == 0 || p.edges[0].On == 0 || p.edges[0].Channel != channel:
		return "it says that it obeys, and no OUTPUT says so", false
	case len(p.edges) < 2:
		return "the pulse does not end by itself: the output stays on, dangerous to whatever hangs on it", false
	case len(p.edges) > 2 || p.edges[1].On != 0 || p.edges[1].Channel != channel:
		return "one TEST is one pulse of one output", false
	}
	took, asked := time.Duration(p.edges[1].Time-p.edges[0].Time)*time.Microsecond, pulseLength*time.Millisecond
	if took < asked-time.Millisecond || took > asked+pulseLate {
		return fmt.Sprintf("by the board's clock the pulse lasted %s; asked for were %s, and at most %s more may pass", took, asked, pulseLate), false
	}
	return "", false
}

// notNew is the result of a board that refuses since it isn't new.
func (p *pulse) notNew(sent string) result {
	why := "the board has been given samples since power-up, or remembers a flight: switch it off and on, and try again"
	if p.answer.Refused == contract.TestBusy {
		why = "an output is on already; see the point on what is dark when a run begins"
	}
	return result{sent: sent, came: p.String(), why: why}
}

// pulses asks for one pulse of each output. A dummy load must hang there.
func pulses(s *tester) result {
	sent := fmt.Sprintf("HELLO, mode %d (real time), TEST of each output for %d ms", contract.RealTime, pulseLength)
	if s.Welcome.Capabilities&contract.CanRealTime == 0 {
		return result{outcome: Fail, sent: "HELLO", came: "WELCOME that offers TEST and no real time", why: "a board without a clock of its own can't end a pulse by itself: it must not offer TEST"}
	}
	if r, ok := s.fresh(sent); !ok {
		return r
	}
	n := 0
	for c := uint8(1); c <= min(s.Welcome.Channels, contract.MaxChannels); c++ {
		if s.unloaded(c) {
			continue
		}
		n++
		p, why, old, err := s.wholePulse(c)
		switch {
		case err != nil:
			return s.broke(err, sent)
		case old:
			return p.notNew(sent)
		case why != "":
			return result{outcome: Fail, soft: true, sent: sent, came: p.String(), why: why}
		}
	}
	if n == 0 {
		return result{sent: sent, came: nothing, why: "the rig declares no dummy load for any output, so that none was asked for a pulse"}
	}
	if err := s.tally(); err != nil {
		return s.broke(err, sent)
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("%d pulses of that length by the board's clock", n), why: "each output on, and off by itself"}
}

// unloaded says that nobody has declared what hangs on an output: it is left alone.
func (s *tester) unloaded(channel uint8) bool {
	return s.opt.Stand != nil && s.opt.Stand.Loaded()>>(channel-1)&1 == 0
}

// one is an output that may be asked for a pulse; 1 where there is none.
func (s *tester) one() uint8 {
	for c := uint8(1); c <= min(s.Welcome.Channels, contract.MaxChannels); c++ {
		if !s.unloaded(c) {
			return c
		}
	}
	return 1
}

// lateTries is how often a pulse that ends by itself, but late, is asked for again: a computer that plays
// the board may have been busy.
const lateTries = 3

// wholePulse asks for a pulse, sees it end, and says what is wrong with it.
func (s *tester) wholePulse(c uint8) (p pulse, why string, old bool, err error) {
	for range lateTries {
		if p, err = s.pulsed(contract.Test{Channel: c, Length: pulseLength}, 0); err == nil && p.answer.Refused == contract.TestObeyed {
			err = s.ended(&p)
		}
		if err != nil {
			return p, "", false, err
		}
		s.look(0, fmt.Sprintf("after a pulse of output %d", c))
		if why, old = p.wrong(c); why == "" || len(p.edges) != 2 {
			break
		}
	}
	return p, why, old, nil
}

// refused sends TESTs each of which must be refused without anything moving.
func (s *tester) refused(sent, must string, guard uint32, tests ...contract.Test) result {
	r := result{outcome: Pass, sent: sent, why: "refused, and nothing moved"}
	for _, m := range tests {
		p, err := s.pulsed(m, guard)
		if err != nil {
			return s.broke(err, sent)
		}
		r.came = p.String()
		if p.answer.Refused == contract.TestObeyed || len(p.edges) > 0 {
			r.outcome, r.why = Fail, must
			return r
		}
	}
	if err := s.tally(); err != nil {
		return s.broke(err, sent)
	}
	return r
}

func guarded(s *tester) result {
	sent := "TEST with a guard word of which one bit is wrong, then with none"
	if r, ok := s.fresh(sent); !ok {
		return r
	}
	const must = "the board obeys a TEST of another run: it must look at the guard word"
	m := contract.Test{Channel: s.one(), Length: pulseLength}
	if r := s.refused(sent, must, 1<<9, m); r.outcome != Pass {
		return r
	}
	return s.refused(sent, must, s.Nonce^contract.TestGuard, m)
}

func sensible(s *tester) result {
	sent := fmt.Sprintf("TEST of channels 0 and %d, then for 0 and %d ms", s.Welcome.Channels+1, contract.TestMost+1)
	if r, ok := s.fresh(sent); !ok {
		return r
	}
	return s.refused(sent, "a TEST that makes no sense must not be obeyed", 0,
		contract.Test{Channel: 0, Length: pulseLength}, contract.Test{Channel: s.Welcome.Channels + 1, Length: pulseLength},
		contract.Test{Channel: s.one(), Length: 0}, contract.Test{Channel: s.one(), Length: contract.TestMost + 1})
}

func notInLockstep(s *tester) result {
	sent := "HELLO, mode 0 (lockstep), TEST"
	if r, ok := s.started(false); !ok {
		return r
	}
	if r, ok := s.dark(sent); !ok {
		return r
	}
	return s.refused(sent, "in lockstep no clock ends a pulse when the host falls silent: the board must refuse", 0, contract.Test{Channel: s.one(), Length: pulseLength})
}

// sampleEnds lets a sample come in the middle of the longest pulse.
func sampleEnds(s *tester) result {
	sent := fmt.Sprintf("TEST of an output for %d ms, and a sample behind it", contract.TestMost)
	if r, ok := s.fresh(sent); !ok {
		return r
	}
	p, err := s.pulsed(contract.Test{Channel: s.one(), Length: contract.TestMost}, 0)
	if err != nil {
		return s.broke(err, sent)
	}
	if p.answer.Refused != contract.TestObeyed {
		return p.notNew(sent)
	}
	if err := s.tick(); err != nil {
		return s.broke(err, sent)
	}
	if err := s.ended(&p); err != nil {
		return s.broke(err, sent)
	}
	r := result{outcome: Pass, sent: sent, came: p.String(), why: "dark at once"}
	if len(p.edges) < 2 || time.Duration(p.edges[1].Time-p.edges[0].Time)*time.Microsecond > time.Duration(contract.TestMost)*time.Millisecond*4/5 {
		r.outcome, r.why, r.soft = Fail, "whoever sends samples is about to fly: the pulse must end at once", true
	}
	return r
}

// notInFlight flies for a second, unarmed, and asks; then once more in the next run.
func notInFlight(s *tester) result {
	sent := "samples to a second behind liftoff, TEST; BYE, HELLO, TEST"
	if r, ok := s.fresh(sent); !ok {
		return r
	}
	s.samples.launch = padTime
	for range int((padTime + 1) * s.opt.Rates.IMU) {
		if err := s.paced(nil); err != nil {
			return s.broke(err, sent)
		}
	}
	m := contract.Test{Channel: s.one(), Length: pulseLength}
	r := s.refused(sent, "the board obeys TEST in flight: it would fire whatever hangs there", 0, m)
	if r.outcome != Pass {
		return r
	}
	s.mode = contract.RealTime
	err := s.begin()
	s.mode = contract.Lockstep
	if err != nil {
		return s.broke(err, sent)
	}
	return s.refused(sent, "the board obeys TEST after it has been flown: only power-up makes it new", 0, m)
}

// notArmed arms the board on the pad and asks.
func notArmed(s *tester) result {
	sent := "COMMAND arm, on the pad, again until DONE says armed; TEST"
	if r, ok := s.fresh(sent); !ok {
		return r
	}
	if err := s.set(); err != nil {
		return s.broke(err, sent)
	}
	every := int(armTime / 4 * s.opt.Rates.IMU) // a command that comes late over a busy line is dropped, as a late sample is
	for k := 1; k < 12*every && s.done.Armed == 0; k++ {
		var more func() []byte
		if k%every == 0 {
			more = func() []byte { return s.command(contract.Arm) }
		}
		if err := s.paced(more); err != nil {
			return s.broke(err, sent)
		}
	}
	if s.done.Armed == 0 {
		return result{sent: sent, came: "no DONE with armed 1", why: "it did not arm, so that nothing shows what it would do armed" + quoted(fmt.Sprint(s.watch.logs))}
	}
	return s.refused(sent, "the board obeys TEST while armed: it would fire whatever hangs there", 0, contract.Test{Channel: s.one(), Length: pulseLength})
}
