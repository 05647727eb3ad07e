package conformance

import (
	"fmt"
	"math"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

// pulse is the answer to a TEST and the edges that followed.
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

// newBoard begins a real-time run, on a board that is restarted if possible.
func (s *tester) newBoard(sent string) (r result, ok bool) {
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
		r = s.failed(err, sent)
		r.outcome = Unsure
	}
	s.monitor.reset()
	s.samples.reset()
	s.monitor.realTime = true // until the next run
	if ok {
		r, ok = s.allOff(sent)
	}
	return r, ok
}

// allOff checks that all outputs are off before a TEST is sent.
func (s *tester) allOff(sent string) (r result, ok bool) {
	if err := s.tickAlone(); err != nil {
		return s.failed(err, sent), false
	}
	if s.done.Outputs != 0 {
		return result{sent: sent, came: fmt.Sprintf("outputs %016b on before that", s.done.Outputs), why: "see the point on what is dark when a run begins"}, false
	}
	return r, true
}

// sendTest sends a TEST and waits for its answer. Bits set in change make the guard word wrong.
func (s *tester) sendTest(m contract.Test, change uint32) (p pulse, err error) {
	m.Nonce, m.Guard = s.Nonce*3+uint32(m.Channel), s.Nonce^contract.TestGuard^change
	s.monitor.recent = nil
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
	p.edges = s.monitor.recent
	return p, err
}

// awaitEnd waits for the end of a pulse. It sends nothing meanwhile, except to a board that has no time of its own.
func (s *tester) awaitEnd(p *pulse) error {
	over := func() bool {
		p.edges = s.monitor.recent
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

// tickAlone sends TICK without samples, to get the board's counts: all frames must have arrived.
func (s *tester) tickAlone() error {
	return s.exchange(s.Enc.Tick(nil, &contract.Tick{Time: s.now}))
}

// problem says what is wrong with a pulse that should have been obeyed. old means that the board is not newly
// started.
func (p *pulse) problem(channel uint8) (why string, old bool) {
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

// notNew is the result of a board that refuses TEST because it is not newly started.
func (p *pulse) notNew(sent string) result {
	why := "the board has been given samples since power-up, or remembers a flight: switch it off and on, and try again"
	if p.answer.Refused == contract.TestBusy {
		why = "an output is on already; see the point on what is dark when a run begins"
	}
	return result{sent: sent, came: p.String(), why: why}
}

// noLoad says that the rig declares no load for an output: it gets no pulse.
func (s *tester) noLoad(channel uint8) bool {
	return s.opt.Stand != nil && s.opt.Stand.Loaded()>>(channel-1)&1 == 0
}

// loadedChannel is an output that may get a pulse; 1 if there is none.
func (s *tester) loadedChannel() uint8 {
	for c := uint8(1); c <= min(s.Welcome.Channels, contract.MaxChannels); c++ {
		if !s.noLoad(c) {
			return c
		}
	}
	return 1
}

// pulseTries is how often a pulse is tried that ends by itself, but late: the computer that runs the board may be
// busy.
const pulseTries = 3

// wholePulse asks for a pulse, waits for its end, and says what is wrong with it.
func (s *tester) wholePulse(c uint8) (p pulse, why string, old bool, err error) {
	for range pulseTries {
		if p, err = s.sendTest(contract.Test{Channel: c, Length: pulseLength}, 0); err == nil && p.answer.Refused == contract.TestObeyed {
			err = s.awaitEnd(&p)
		}
		if err != nil {
			return p, "", false, err
		}
		s.checkPins(0, fmt.Sprintf("after a pulse of output %d", c))
		if why, old = p.problem(c); why == "" || len(p.edges) != 2 {
			break
		}
	}
	return p, why, old, nil
}
