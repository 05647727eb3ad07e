package conformance

import (
	"errors"
	"fmt"

	"drystage/harness/contract"
)

func restartTests() []test {
	const needs = contract.CanLockstep | contract.CanRestart
	return []test{
		{name: "after RESTART the board is silent until HELLO", contract: says("RESTART"), needs: needs, try: silentAfterRestart},
		{name: "RESTART raises the count of starts by one", contract: says("WELCOME.boots", "DONE.bad", "DONE.lost"), needs: needs, try: bootsRise},
		{name: "outputs are dark after RESTART", contract: says("RESTART", "DONE.outputs"), needs: needs, try: darkAfterRestart},
	}
}

// restart tells the board that its supply fails.
func (s *session) restart() error {
	err := s.post(s.enc.Restart(nil, &contract.Restart{Nonce: s.nonce}))
	s.starts = true
	s.forget()
	s.done, s.seen, s.based = contract.Done{}, contract.Counts{}, true
	return err
}

// silentAfterRestart speaks to a board that must not hear.
func silentAfterRestart(s *session) result {
	if r, ok := s.started(false); !ok {
		return r
	}
	sent := "RESTART, then 3 TICKs, an IMU and a SETTING, no HELLO"
	if err := s.ticks(3); err != nil {
		return s.broke(err, sent)
	}
	if err := s.restart(); err != nil {
		return s.broke(err, sent)
	}
	var out []byte
	for range 3 {
		out = append(out, s.samples.next(&s.enc, &s.now)...)
		out = s.enc.Tick(out, &contract.Tick{Time: s.now})
	}
	out = s.enc.Setting(out, &contract.Setting{})
	err := s.post(out)
	s.owed = s.owed[:0]
	var codes []contract.Code
	if err == nil {
		codes, err = s.quiet(s.hush())
	}
	if err != nil {
		return s.broke(err, sent)
	}
	came := s.came
	was := s.welcome.Boots
	if r, ok := s.restarted(sent, was); !ok {
		return r
	}
	if len(codes) > 0 || came > 0 {
		r := result{outcome: Fail, soft: true, sent: sent, came: fmt.Sprintf("%d bytes, frames %v", came, codes), why: "a board whose supply has failed says nothing"}
		if len(codes) == 0 {
			r.outcome, r.why = Unsure, "something came that is no frame; look at the line"
		}
		return r
	}
	return s.heard(result{outcome: Pass, sent: sent, came: "nothing, and WELCOME after HELLO", why: "silent until HELLO"})
}

// restarted shakes hands after a RESTART, and takes the board's new count of starts over.
func (s *session) restarted(sent string, was uint16) (r result, ok bool) {
	w, err := s.hello()
	if err != nil {
		r = s.broke(err, sent+", HELLO")
		if errors.Is(err, errSilent) {
			s.dead = "the board did not come back after RESTART"
			r.why = "no WELCOME after RESTART and HELLO within " + s.opt.Timeout.String()
		}
		return r, false
	}
	s.starts = false
	s.welcome = w
	if risen := w.Boots - was; risen > 1 && risen < 1<<15 {
		s.unasked += int(risen) - 1
	}
	return r, true
}

func bootsRise(s *session) result {
	if r, ok := s.started(false); !ok {
		return r
	}
	sent := "a spoilt frame, TICKs, RESTART, HELLO, TICK"
	spoilt := flip(s.enc.Bye(nil, &contract.Bye{}), -1)
	if err := s.tick(spoilt...); err != nil {
		return s.broke(err, sent)
	}
	was := s.welcome.Boots
	if err := s.restart(); err != nil {
		return s.broke(err, sent)
	}
	if r, ok := s.restarted(sent, was); !ok {
		return r
	}
	s.samples.reset()
	if err := s.tick(); err != nil {
		return s.broke(err, sent)
	}
	came := fmt.Sprintf("%d starts, before %d; `bad` %d, `lost` %d", s.welcome.Boots, was, s.done.Bad, s.done.Lost)
	switch {
	case s.welcome.Boots-was != 1:
		return result{outcome: Fail, soft: true, sent: sent, came: came, why: "a restart must show in the count of starts, by one"}
	case s.done.Bad != 0 || s.done.Lost != 0:
		return result{outcome: Fail, soft: true, sent: sent, came: came, why: "counts since it started must begin at 0"}
	}
	return result{outcome: Pass, sent: sent, came: came, why: "one more start, and the counts begin anew"}
}

func darkAfterRestart(s *session) result {
	if r, ok := s.started(true); !ok {
		return r
	}
	sent := "COMMAND arm, TICKs, RESTART, HELLO, 20 TICKs"
	if s.welcome.Capabilities&contract.CanCommands == 0 {
		sent = "TICKs, RESTART, HELLO, 20 TICKs"
	} else if err := s.tick(s.command(contract.Arm)...); err != nil {
		return s.broke(err, sent)
	}
	if err := s.ticks(int(s.opt.Rates.IMU * armTime)); err != nil {
		return s.broke(err, sent)
	}
	if err := s.restart(); err != nil {
		return s.broke(err, sent)
	}
	if r, ok := s.restarted(sent, s.welcome.Boots); !ok {
		return r
	}
	s.samples.reset()
	ons := s.watch.ons
	for range 20 {
		if err := s.tick(); err != nil {
			return s.broke(err, sent)
		}
		if s.done.Outputs != 0 || s.watch.ons != ons {
			return result{outcome: Fail, sent: sent, came: fmt.Sprintf("outputs %016b, %d OUTPUTs on", s.done.Outputs, s.watch.ons-ons), why: "a board that starts is dark"}
		}
	}
	return result{outcome: Pass, sent: sent, came: "20 DONEs, no output on", why: "dark after the restart"}
}
