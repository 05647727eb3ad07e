package session

import (
	"context"
	"errors"
	"fmt"
	"time"

	"drystage/harness/board/contract"
)

// HelloEvery is how often HELLO is repeated until it is answered: a board that is booting may miss the first ones.
const HelloEvery = 250 * time.Millisecond

const helloTries = 3 // over an instant link

// Hello makes the HELLO of a run in a mode of the contract. The rates are those of the messages to come.
func Hello(role string, mode uint8, r contract.Rates) contract.Hello {
	m := contract.Hello{Version: contract.Version, Mode: mode, IMUHz: hertz[uint16](r.IMU), BaroHz: hertz[uint16](r.Baro),
		GNSSHz: hertz[uint8](r.GNSS), BatteryHz: hertz[uint8](r.Battery)}
	contract.PutText(m.Role[:], role)
	return m
}

// hertz rounds a rate; that of a fitted sensor is at least 1.
func hertz[T contract.Integer](rate float64) T {
	if rate > 0 && rate < 1 {
		rate = 1
	}
	return contract.Count[T](rate)
}

// Reset prepares for HELLOs with a nonce, and drops what has been received.
func (s *Session) Reset(nonce uint32) {
	s.Nonce, s.ForeignWelcomes, s.connecting, s.in = nonce, 0, true, nil
	s.Dec.Forget()
}

// Hello sends HELLO once, with a delimiter in front that ends any incomplete frame on the line.
func (s *Session) Hello(m *contract.Hello) error {
	return s.Send(s.Enc.Hello([]byte{0}, m))
}

// Connect repeats HELLO until its WELCOME comes, for at most a time. said is how often it was sent.
func (s *Session) Connect(ctx context.Context, m *contract.Hello, wait time.Duration) (w contract.Welcome, said int, err error) {
	s.Reset(m.Nonce)
	every := max(HelloEvery, s.HelloEvery)
	tries := helloTries
	if !s.Instant {
		tries = int((wait + every - 1) / every)
	}
	var foreign error
	for left := wait; said < tries; left -= every {
		said++
		if err := s.Hello(m); err != nil {
			return w, said, err
		}
		var p []byte
		switch p, err = s.Await(ctx, contract.CodeWelcome, min(every, left), nil); {
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

// Meaning is what a WELCOME means.
type Meaning uint8

// The meanings.
const (
	Nothing   Meaning = iota // for example a second answer to the same HELLO
	Answered                 // the answer to our HELLO
	Foreign                  // the answer to a HELLO that is not ours
	Restarted                // the board has restarted since its last WELCOME
)

// ReadWelcome says what a WELCOME means. The error is ErrNonce for a foreign one, or a wrong length.
func (s *Session) ReadWelcome(p []byte) (w contract.Welcome, means Meaning, err error) {
	if err := w.Decode(p); err != nil {
		return w, Nothing, err
	}
	switch {
	case s.connecting && w.Nonce == s.Nonce:
		s.connecting = false
		return w, Answered, nil
	case s.connecting && w.Nonce != 0:
		s.ForeignWelcomes++
		s.ForeignNonce = w.Nonce
		return w, Foreign, fmt.Errorf("WELCOME: %w: nonce %08x came back, %08x was sent", ErrNonce, w.Nonce, s.Nonce)
	case !s.connecting && w.Boots != s.Welcome.Boots:
		s.Welcome.Boots = w.Boots
		return w, Restarted, nil
	}
	return w, Nothing, nil
}
