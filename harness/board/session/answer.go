package session

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness/board/contract"
)

// What can be wrong with a board's answers.
var (
	ErrSilent    = errors.New("no answer in time")
	ErrGarbage   = errors.New("no sound frame among what came")
	ErrFlood     = errors.New("the board does not stop talking")
	ErrNonce     = errors.New("the board answers somebody else's HELLO")
	ErrRestarted = errors.New("the board has restarted")
)

// NoAnswer says that an error means that the awaited answer did not come in time.
func NoAnswer(err error) bool {
	return errors.Is(err, ErrSilent) || errors.Is(err, ErrGarbage) || errors.Is(err, ErrNonce)
}

// Await reads until a frame of the wanted type comes, and gives its payload. see, which may be nil, gets each frame,
// also the wanted one, but not WELCOME and what comes before it. If the board restarts, the error is ErrRestarted. At
// most MaxBytes may come meanwhile.
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
			switch _, means, err := s.ReadWelcome(f.Payload); {
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

// Silence makes the error of a missing answer, by the bytes and the sound frames that came instead.
func Silence(want contract.Code, bytes, frames int) error {
	switch {
	case bytes == 0:
		return fmt.Errorf("%s: %w; is the board powered, and does it run?", want, ErrSilent)
	case frames == 0:
		return fmt.Errorf("%s: %w: %d bytes; are speed and wiring right?", want, ErrGarbage, bytes)
	}
	return fmt.Errorf("%s: %w, though %d other frames came", want, ErrSilent, frames)
}
