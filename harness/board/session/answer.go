package session

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness/board/contract"
)

// What can be wrong with the talk of a board.
var (
	ErrSilent    = errors.New("no answer in time")
	ErrGarbage   = errors.New("no sound frame among what came")
	ErrFlood     = errors.New("the board does not stop talking")
	ErrNonce     = errors.New("the board answers somebody else's HELLO")
	ErrRestarted = errors.New("the board has restarted")
)

// NoAnswer says that an error means that the wanted answer did not come in time.
func NoAnswer(err error) bool {
	return errors.Is(err, ErrSilent) || errors.Is(err, ErrGarbage) || errors.Is(err, ErrNonce)
}

// Await reads until a frame of the wanted type comes, and gives its payload. Each frame goes to see as well, the
// wanted one too, but for WELCOME and for what comes before it; see may be nil. A board that has started anew
// ends the wait with ErrRestarted. While it waits, MaxBytes may come.
func (s *Session) Await(ctx context.Context, want contract.Code, wait time.Duration, see func(contract.Frame) error) ([]byte, error) {
	s.Budget = MaxBytes
	deadline := time.Time{}
	if !s.Instant {
		deadline = time.Now().Add(wait)
	}
	bytes, frames := s.Bytes, s.Frames
	var foreign error
	for {
		f, err := s.Next(ctx, deadline)
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded) && foreign != nil:
			return nil, foreign
		case errors.Is(err, os.ErrDeadlineExceeded):
			return nil, Silence(want, s.Bytes-bytes, s.Frames-frames)
		case err != nil:
			return nil, err
		case f.Code == contract.CodeWelcome:
			switch _, means, err := s.Meet(f.Payload); {
			case means == Foreign:
				foreign = err
			case means == Restarted:
				return nil, ErrRestarted
			case means == Answered && want == contract.CodeWelcome, err != nil:
				return f.Payload, err
			}
			continue
		case want == contract.CodeWelcome:
			continue
		}
		if see != nil {
			if err := see(f); err != nil {
				return nil, err
			}
		}
		if f.Code == want {
			return f.Payload, nil
		}
	}
}

// Silence tells the kinds of no answer apart, by the bytes and the sound frames that came instead.
func Silence(want contract.Code, bytes, frames int) error {
	switch {
	case bytes == 0:
		return fmt.Errorf("%s: %w; is the board powered, and does it run?", want, ErrSilent)
	case frames == 0:
		return fmt.Errorf("%s: %w: %d bytes; are speed and wiring right?", want, ErrGarbage, bytes)
	}
	return fmt.Errorf("%s: %w, though %d other frames came", want, ErrSilent, frames)
}
