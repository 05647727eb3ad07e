package conformance

import (
	"errors"
	"fmt"
	"time"

	"drystage/harness/board/contract"
)

const helloEvery = 250 * time.Millisecond // a board that is still booting may miss the first ones

// hello says HELLO until WELCOME comes with its nonce. Times begin anew at 0.
func (s *session) hello() (contract.Welcome, error) { return s.helloAt(0) }

// helloAt says HELLO with a time of the run.
func (s *session) helloAt(now uint32) (contract.Welcome, error) {
	s.nonce = s.nonce*1664525 + 1013904223 // an odd constant each: a full cycle (Hull and Dobell, SIAM Review 4(3), 1962)
	if s.nonce == 0 {
		s.nonce = 1
	}
	s.now, s.last, s.in, s.aliens = now, now, nil, 0
	s.dec.Forget()
	m := s.greeting()
	var w contract.Welcome
	tries, left := 3, s.opt.Timeout
	if !s.instant {
		tries = int((s.opt.Timeout + helloEvery - 1) / helloEvery)
	}
	for try := range tries {
		if try > 0 && (s.met && !s.starts || s.instant) { // else the board may still have been starting
			s.strange = append(s.strange, fmt.Sprintf("HELLO was not answered until said %d times", try+1))
		}
		if err := s.post(s.enc.Hello([]byte{0}, &m)); err != nil {
			return w, err
		}
		p, err := s.await(contract.CodeWelcome, min(helloEvery, left))
		left -= helloEvery
		if errors.Is(err, errSilent) {
			continue
		}
		if err == nil {
			err = w.Decode(p)
		}
		return w, err
	}
	return w, errSilent
}

func (s *session) greeting() contract.Hello {
	r := s.opt.Rates
	m := contract.Hello{Version: contract.Version, Mode: s.mode, Nonce: s.nonce, Time: s.now, IMUHz: contract.Count[uint16](r.IMU),
		BaroHz: contract.Count[uint16](r.Baro), GNSSHz: contract.Count[uint8](r.GNSS), BatteryHz: contract.Count[uint8](r.Battery)}
	contract.PutText(m.Role[:], "conformance")
	return m
}

// begin ends the run that may be on, if it has come to a DONE, and begins another.
func (s *session) begin() error {
	if s.based {
		if err := s.post(s.enc.Bye(nil, &contract.Bye{})); err != nil {
			return err
		}
	}
	w, err := s.hello()
	if err != nil {
		return err
	}
	if w.Boots != s.welcome.Boots {
		s.unasked++
		s.forget()
	}
	s.welcome = w
	s.watch.dark()
	s.watch.free = s.mode == contract.RealTime
	s.samples.reset()
	return nil
}

// tick sends the samples of the next instant, more frames, and TICK, and waits for DONE.
func (s *session) tick(more ...byte) error {
	out := append(s.samples.next(&s.enc, &s.now), more...)
	return s.exchange(s.enc.Tick(out, &contract.Tick{Time: s.now}))
}

// ticks goes on by a number of ticks on the pad.
func (s *session) ticks(n int) error {
	for range n {
		if err := s.tick(); err != nil {
			return err
		}
	}
	return nil
}
