package conformance

import (
	"fmt"

	"drystage/harness/board/contract"
	"drystage/harness/board/session"
)

// hello says HELLO until WELCOME comes with its nonce. Times begin anew at 0.
func (s *tester) hello() (contract.Welcome, error) { return s.helloAt(0) }

// helloAt says HELLO with a time of the run.
func (s *tester) helloAt(now uint32) (contract.Welcome, error) {
	s.Nonce = s.Nonce*1664525 + 1013904223 // an odd constant each: a full cycle (Hull and Dobell, SIAM Review 4(3), 1962)
	if s.Nonce == 0 {
		s.Nonce = 1
	}
	s.now, s.last = now, now
	m := s.greeting()
	from := s.Bytes
	w, said, err := s.Greet(s.ctx, &m, s.opt.Timeout)
	s.came = s.Bytes - from
	if s.met && !s.starts || s.Instant { // else the board may still have been starting
		for n := 2; n <= said; n++ {
			s.strange = append(s.strange, fmt.Sprintf("HELLO was not answered until said %d times", n))
		}
	}
	return w, err
}

// greeting is the HELLO of a run as this board is tested.
func (s *tester) greeting() contract.Hello {
	m := session.Hello("conformance", s.mode, s.opt.Rates)
	m.Nonce, m.Time = s.Nonce, s.now
	return m
}

// begin ends the run that may be on, if it has come to a DONE, and begins another.
func (s *tester) begin() error {
	if s.based {
		if err := s.Send(s.Enc.Bye(nil, &contract.Bye{})); err != nil {
			return err
		}
	}
	w, err := s.hello()
	if err != nil {
		return err
	}
	if w.Boots != s.Welcome.Boots {
		s.unasked++
		s.forget()
	}
	s.Welcome = w
	s.watch.dark()
	s.watch.free = s.mode == contract.RealTime
	s.samples.reset()
	return nil
}

// tick sends the samples of the next instant, more frames, and TICK, and waits for DONE.
func (s *tester) tick(more ...byte) error {
	out := append(s.samples.next(&s.Enc, &s.now), more...)
	return s.exchange(s.Enc.Tick(out, &contract.Tick{Time: s.now}))
}

// ticks goes on by a number of ticks on the pad.
func (s *tester) ticks(n int) error {
	for range n {
		if err := s.tick(); err != nil {
			return err
		}
	}
	return nil
}
