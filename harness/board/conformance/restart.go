package conformance

import (
	"fmt"
	"math"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

func restartTests() []test {
	const needs = contract.CanLockstep | contract.CanRestart
	return []test{
		{name: "after RESTART the board is silent until HELLO", contract: quote("RESTART"), spec: "4, restart", needs: needs, try: silentAfterRestart},
		{name: "RESTART raises the count of starts by one", contract: quote("WELCOME.boots", "DONE.bad", "DONE.lost"), spec: "4, restart", needs: needs, try: bootsRise},
		{name: "outputs are dark after RESTART", contract: quote("RESTART", "DONE.outputs"), spec: "4, restart, and 5, rule 2", needs: needs, try: offAfterRestart},
		{name: "restarted while armed on the pad, a board stays dark", contract: quote("RESTART", "DONE.outputs"), spec: "4, restart", needs: needs | contract.CanCommands, try: restartOnPad},
		{name: "after a RESTART in flight the run goes on at HELLO's time", contract: quote("HELLO.time", "RESTART", "DONE.outputs"), spec: "4, restart", needs: needs, try: restartInFlight},
	}
}

// restart cuts the board's supply, by RESTART or by the rig.
func (s *tester) restart() (err error) {
	if s.cutsSupply() {
		err = s.cutSupply()
	} else {
		err = s.Send(s.Enc.Restart(nil, &contract.Restart{Nonce: s.Nonce}))
	}
	s.restarting = true
	s.boardRestarted()
	s.done, s.counted, s.comparable = contract.Done{}, contract.Counts{}, true
	if err == nil {
		s.checkPins(0, "after the restart, before HELLO,")
	}
	return err
}

// silentAfterRestart sends frames to a board that must ignore them until HELLO.
func silentAfterRestart(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "RESTART, then 3 TICKs, an IMU and a SETTING, no HELLO"
	if err := s.ticks(3); err != nil {
		return s.failed(err, sent)
	}
	if err := s.restart(); err != nil {
		return s.failed(err, sent)
	}
	var out []byte
	for range 3 {
		out = append(out, s.samples.next(&s.Enc, &s.now)...)
		out = s.Enc.Tick(out, &contract.Tick{Time: s.now})
	}
	out = s.Enc.Setting(out, &contract.Setting{})
	err := s.Send(out)
	s.pending = s.pending[:0]
	var codes []contract.Code
	if err == nil {
		codes, err = s.listen(s.listenTime())
	}
	if err != nil {
		return s.failed(err, sent)
	}
	came := s.came
	was := s.Welcome.Boots
	if r, ok := s.restarted(sent, 0); !ok {
		return r
	}
	if len(codes) > 0 || came > 0 {
		r := result{outcome: Fail, soft: true, sent: sent, came: fmt.Sprintf("%d bytes, frames %v", came, codes), why: "a board whose supply has failed says nothing"}
		if len(codes) > 0 && s.Welcome.Boots == was {
			s.ignoresRestart = true
			r.why = fmt.Sprintf("the board ignores RESTART: it answers as before, and its count of starts is still %d; a board that can't restart must not offer it in WELCOME", was)
		}
		if len(codes) == 0 {
			r.outcome, r.why = Unsure, "something came that is no frame; look at the line"
		}
		return r
	}
	return s.thenTick(result{outcome: Pass, sent: sent, came: "nothing, and WELCOME after HELLO", why: "silent until HELLO"})
}

// restarted shakes hands after a RESTART, at a time of the run, and keeps the board's new count of starts.
func (s *tester) restarted(sent string, now uint32) (r result, ok bool) {
	was := s.Welcome.Boots
	w, err := s.helloAt(now)
	if err != nil {
		r = s.failed(err, sent+", HELLO")
		if session.NoAnswer(err) {
			s.stopped = "the board did not come back after RESTART"
			r.why = "no WELCOME after RESTART and HELLO within " + s.opt.Timeout.String()
		}
		return r, false
	}
	s.restarting = false
	s.Welcome = w
	if risen := w.Boots - was; risen > 1 && risen < 1<<15 {
		s.ownRestarts += int(risen) - 1
	}
	return r, true
}

func bootsRise(s *tester) result {
	if r, ok := s.beginRun(false); !ok {
		return r
	}
	sent := "a corrupt frame, TICKs, RESTART, HELLO, TICK"
	var corrupt []byte // so that `bad` is not 0 before the restart
	if !s.actsOnCorrupt {
		corrupt = flipBit(s.Enc.Bye(nil, &contract.Bye{}), -1)
	}
	if err := s.tick(corrupt...); err != nil {
		return s.failed(err, sent)
	}
	was := s.Welcome.Boots
	if err := s.restart(); err != nil {
		return s.failed(err, sent)
	}
	if r, ok := s.restarted(sent, 0); !ok {
		return r
	}
	s.samples.reset()
	if err := s.tick(); err != nil {
		return s.failed(err, sent)
	}
	came := fmt.Sprintf("%d starts, before %d; `bad` %d, `lost` %d", s.Welcome.Boots, was, s.done.Bad, s.done.Lost)
	switch {
	case s.Welcome.Boots-was != 1:
		return result{outcome: Fail, soft: true, sent: sent, came: came, why: "a restart must show in the count of starts, by one, so that a board which restarts by itself is noticed"}
	case s.done.Bad != 0 || s.done.Lost != 0:
		return result{outcome: Fail, soft: true, sent: sent, came: came, why: "counts since it started must begin at 0"}
	}
	return result{outcome: Pass, sent: sent, came: came, why: "one more start, and the counts begin anew"}
}

// skipRestart is the result of a point that needs a restart, on a board that ignores RESTART or has outputs on at the
// start.
func (s *tester) skipRestart(sent string) (r result, yes bool) {
	switch {
	case s.onAtStart != "":
		return s.skipOnAtStart(sent), true
	case s.ignoresRestart:
		return result{sent: sent, came: nothing, why: "not tried: the board ignores RESTART; put that right first"}, true
	}
	return r, false
}

func offAfterRestart(s *tester) result {
	sent := "COMMAND arm, TICKs, RESTART, HELLO, 20 TICKs"
	if r, yes := s.skipRestart(sent); yes {
		return r
	}
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	if s.Welcome.Capabilities&contract.CanCommands == 0 {
		sent = "TICKs, RESTART, HELLO, 20 TICKs"
	} else if err := s.tick(s.command(contract.Arm)...); err != nil {
		return s.failed(err, sent)
	}
	if err := s.ticks(int(s.opt.Rates.IMU * s.armTime())); err != nil {
		return s.failed(err, sent)
	}
	if err := s.restart(); err != nil {
		return s.failed(err, sent)
	}
	if r, ok := s.restarted(sent, 0); !ok {
		return r
	}
	s.samples.reset()
	ons := s.monitor.switchedOn
	for range 20 {
		if err := s.tick(); err != nil {
			return s.failed(err, sent)
		}
		if s.done.Outputs != 0 || s.monitor.switchedOn != ons {
			return result{outcome: Fail, sent: sent, came: fmt.Sprintf("outputs %016b, %d OUTPUTs on", s.done.Outputs, s.monitor.switchedOn-ons), why: "a board that starts is dark"}
		}
	}
	return result{outcome: Pass, sent: sent, came: "20 DONEs, no output on", why: "dark after the restart"}
}

const (
	thrustAt = 0.5 // s after launch, when the supply fails
	outage   = 0.4 // s
)

// restartInFlight cuts the supply under thrust, waits, and continues the same flight. The board may have kept the
// flight in its memory or not. Its outputs must be off at first, and it must answer to the end.
func restartInFlight(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm, samples of a launch, RESTART under thrust, %g s later HELLO with the time of the run, and the rest of the flight", outage)
	if r, yes := s.skipRestart(sent); yes {
		return r
	}
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	armed, no := s.restartUnderThrust(sent)
	if no != nil {
		return *no
	}
	r, x := s.restOfFlight(sent, armed, math.MaxInt)
	if r.outcome == Pass {
		s.restartedResult = &flightResult{on: x}
	}
	return r
}

// restartUnderThrust flies until the motor burns, cuts the supply, and greets the board at the time of the run. It says
// whether the board was armed before.
func (s *tester) restartUnderThrust(sent string) (armed uint8, no *result) {
	rate := s.opt.Rates.IMU
	s.samples.launch = s.padTime()
	for k := range int((s.padTime() + thrustAt) * rate) {
		var more []byte
		if k == int(armAt*rate) && s.Welcome.Capabilities&contract.CanCommands != 0 {
			more = s.command(contract.Arm)
		}
		if err := s.tick(more...); err != nil {
			return 0, new(s.failed(err, sent))
		}
	}
	armed = s.done.Armed
	if err := s.restart(); err != nil {
		return 0, new(s.failed(err, sent))
	}
	s.samples.k += int(outage * rate)
	if r, ok := s.restarted(sent, s.samples.passed()); !ok {
		return 0, &r
	}
	if err := s.set(); err != nil {
		return 0, new(s.failed(err, sent))
	}
	return armed, nil
}

// restOfFlight continues the flight after an outage until well after apogee, or until outputs have come on n times. It
// gives these, too.
func (s *tester) restOfFlight(sent string, armed uint8, n int) (result, []onEdge) {
	var on []onEdge
	from, before, ons, dones := s.now, s.done.Outputs, s.monitor.switchedOn, s.monitor.dones
	for end := int((s.padTime() + apogee() + afterApogee) * s.opt.Rates.IMU); s.samples.k < end && len(on) < n; {
		first := s.monitor.dones == dones
		if err := s.tick(); err != nil {
			r := s.failed(err, sent)
			r.why = fmt.Sprintf("after the restart, from %d us on: %s", from, r.why)
			return r, on
		}
		if first && (s.done.Outputs != 0 || s.monitor.switchedOn != ons) {
			return result{outcome: Fail, sent: sent, came: fmt.Sprintf("at %d us outputs %016b, %d OUTPUTs on", s.now, s.done.Outputs, s.monitor.switchedOn-ons), why: "a board that starts is dark, in flight too"}, on
		}
		on = appendOn(on, s.done.Outputs&^before, s.samples.k-1)
		before = s.done.Outputs
	}
	return result{outcome: Pass, sent: sent, why: "dark at first, and answering to the end of the flight",
		came: fmt.Sprintf("%d DONEs from %d us on; armed %d, before %d; outputs went on %d times after the restart", s.monitor.dones-dones, from, s.done.Armed, armed, s.monitor.switchedOn-ons)}, on
}

const onPad = 3.0 // s on the pad after a restart: longer than boards wait between drogue and main

// restartOnPad cuts the supply of an armed board on the pad, and continues on the pad. The board may be armed again from
// its memory.
func restartOnPad(s *tester) result {
	sent := fmt.Sprintf("COMMAND arm on the pad, RESTART once DONE says armed, %g s later HELLO with the time of the run, SETTINGs, and %g s of samples on the pad", outage, onPad)
	if r, yes := s.skipRestart(sent); yes {
		return r
	}
	if r, ok := s.beginRun(true); !ok {
		return r
	}
	if r, ok := s.armOnPad(sent); !ok {
		return r
	}
	if err := s.restart(); err != nil {
		return s.failed(err, sent)
	}
	s.samples.k += int(outage * s.opt.Rates.IMU)
	if r, ok := s.restarted(sent, uint32(float64(s.samples.k)/s.opt.Rates.IMU*1e6)); !ok {
		return r
	}
	if err := s.set(); err != nil {
		return s.failed(err, sent)
	}
	if r, ok := s.staysOff(sent, s.monitor.switchedOn, onPad, "a supply that fails for a moment on the pad is no flight: the board fires beside people"); !ok {
		return r
	}
	return result{outcome: Pass, sent: sent, came: fmt.Sprintf("no output on; armed 1 before, %d after", s.done.Armed), why: "dark on the pad after the restart"}
}
