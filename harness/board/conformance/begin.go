package conformance

import (
	"fmt"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

// hello sends HELLO until WELCOME comes with its nonce. The time of the run begins at 0.
func (s *tester) hello() (contract.Welcome, error) { return s.helloAt(0) }

// helloAt sends HELLO with a time of the run.
func (s *tester) helloAt(now uint32) (contract.Welcome, error) {
	s.Nonce = s.Nonce*1664525 + 1013904223 // both odd: full period (Hull and Dobell, SIAM Review 4(3), 1962)
	if s.Nonce == 0 {
		s.Nonce = 1
	}
	s.now, s.last = now, now
	m := s.greeting()
	from := s.Bytes
	up := s.greeted && !s.restarting || s.Instant // else the board may be booting
	s.HelloEvery = 0
	if up { // a board that may take longer for an answer is given that time
		s.HelloEvery = min(s.opt.AnswerLimit, s.opt.Timeout/2)
	}
	w, said, err := s.Connect(s.ctx, &m, s.opt.Timeout)
	s.came = s.Bytes - from
	if up {
		for n := 2; n <= said; n++ {
			s.countErrors = append(s.countErrors, fmt.Sprintf("HELLO was not answered until said %d times", n))
		}
	}
	return w, err
}

// greeting makes the HELLO of a test run.
func (s *tester) greeting() contract.Hello {
	m := session.Hello("conformance", s.mode, s.opt.Rates)
	m.Nonce, m.Time = s.Nonce, s.now
	return m
}

// begin ends the current run, if it has had a DONE, and begins another.
func (s *tester) begin() error {
	s.onNow = false
	if s.comparable {
		if err := s.Send(s.Enc.Bye(nil, &contract.Bye{})); err != nil {
			return err
		}
	}
	w, err := s.hello()
	if err != nil {
		return err
	}
	if w.Boots != s.Welcome.Boots {
		s.ownRestarts++
		s.boardRestarted()
	}
	s.Welcome = w
	s.monitor.reset()
	s.monitor.realTime = s.mode == contract.RealTime
	s.samples.reset()
	return nil
}

// tick sends the samples of the next instant, extra frames and TICK, and waits for DONE.
func (s *tester) tick(more ...byte) error {
	out := append(s.samples.next(&s.Enc, &s.now), more...)
	return s.exchange(s.Enc.Tick(out, &contract.Tick{Time: s.now}))
}

// ticks repeats tick, with the rocket on the pad.
func (s *tester) ticks(n int) error {
	for range n {
		if err := s.tick(); err != nil {
			return err
		}
	}
	return nil
}
