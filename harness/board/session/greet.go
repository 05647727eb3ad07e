package session

import (
	"context"
	"errors"
	"fmt"
	"time"

	"drystage/harness/board/contract"
)

// HelloEvery is how often HELLO is said until it is answered: a board that is still booting may miss the first ones.
const HelloEvery = 250 * time.Millisecond

const helloTries = 3 // over an instant link

// Hello makes the HELLO of a run in a mode of the contract. The rates are those of the messages to come.
func Hello(role string, mode uint8, r contract.Rates) contract.Hello {
	m := contract.Hello{Version: contract.Version, Mode: mode, IMUHz: hertz[uint16](r.IMU), BaroHz: hertz[uint16](r.Baro),
		GNSSHz: hertz[uint8](r.GNSS), BatteryHz: hertz[uint8](r.Battery)}
	contract.PutText(m.Role[:], role)
	return m
}

// hertz rounds a rate, but a part that is fitted has at least 1.
func hertz[T contract.Integer](rate float64) T {
	if rate > 0 && rate < 1 {
		rate = 1
	}
	return contract.Count[T](rate)
}

// Begin makes the session ready for HELLOs with a nonce, and drops what has come.
func (s *Session) Begin(nonce uint32) {
	s.Nonce, s.Foreigners, s.waiting, s.in = nonce, 0, true, nil
	s.Dec.Forget()
}

// Hello says HELLO once, with a delimiter in front that ends whatever the line may have carried before.
func (s *Session) Hello(m *contract.Hello) error {
	return s.Send(s.Enc.Hello([]byte{0}, m))
}

// Greet says HELLO again and again until its WELCOME comes, for at most a time. It gives how often it was said.
func (s *Session) Greet(ctx context.Context, m *contract.Hello, wait time.Duration) (w contract.Welcome, said int, err error) {
	s.Begin(m.Nonce)
	tries := helloTries
	if !s.Instant {
		tries = int((wait + HelloEvery - 1) / HelloEvery)
	}
	var foreign error
	for left := wait; said < tries; left -= HelloEvery {
		said++
		if err := s.Hello(m); err != nil {
			return w, said, err
		}
		var p []byte
		switch p, err = s.Await(ctx, contract.CodeWelcome, min(HelloEvery, left), nil); {
		case err == nil:
			return w, said, w.Decode(p)
		case errors.Is(err, ErrNonce):
			foreign = err
		case !NoAnswer(err):
			return w, said, err
		}
	}
	if foreign != nil {
		return w, said, foreign
	}
	return w, said, fmt.Errorf("HELLO (said %d times): %w", said, err)
}

// Meaning is what a WELCOME tells.
type Meaning uint8

// The meanings.
const (
	Nothing   Meaning = iota // such as a late answer to an earlier HELLO of the same nonce
	Answered                 // the HELLO under way
	Foreign                  // it answers a HELLO that is not ours
	Restarted                // the board has started anew since its last WELCOME
)

// Meet says what a WELCOME means. The error is ErrNonce of a foreign one, or says that it has not the right length.
func (s *Session) Meet(p []byte) (w contract.Welcome, means Meaning, err error) {
	if err := w.Decode(p); err != nil {
		return w, Nothing, err
	}
	switch {
	case s.waiting && w.Nonce == s.Nonce:
		s.waiting = false
		return w, Answered, nil
	case s.waiting && w.Nonce != 0:
		s.Foreigners++
		s.ForeignNonce = w.Nonce
		return w, Foreign, fmt.Errorf("WELCOME: %w: nonce %08x came back, %08x was sent", ErrNonce, w.Nonce, s.Nonce)
	case !s.waiting && w.Boots != s.Welcome.Boots:
		s.Welcome.Boots = w.Boots
		return w, Restarted, nil
	}
	return w, Nothing, nil
}
