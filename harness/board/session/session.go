// Package session is the bench's side of the contract over one link: it repeats HELLO until a board answers, sends
// frames, reads frames, and waits for answers. Runs, measurements of a rig and tests of a board all use it.
//
// Each wait is limited in time and in bytes. It does not judge answers, and repeats no message but HELLO.
package session

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
)

const (
	// MaxBytes is the most that a board may send while one answer is awaited. A fast serial line carries less within
	// DefaultTimeout.
	MaxBytes = 64 << 10
	// ContextCheck is how often a wait checks whether its context is done.
	ContextCheck = 100 * time.Millisecond
	// DefaultTimeout is how long a board may take for an answer.
	DefaultTimeout = 2 * time.Second
)

// Session is one board at the other end of a link. Use it from one goroutine.
type Session struct {
	Enc     contract.Encoder
	Dec     *contract.Decoder
	Instant bool // the link takes no time: all answers are there when Send returns
	// HelloEvery is how often HELLO is repeated, if that is longer than the constant of this name.
	HelloEvery time.Duration

	Nonce           uint32           // of the last HELLO
	Welcome         contract.Welcome // of the connected board; set by the caller
	ForeignWelcomes int              // WELCOMEs with another nonce since the last Reset
	ForeignNonce    uint32           // nonce of the last of these

	LastSent []byte // the last bytes sent; the memory may be reused for the next
	Bytes    int    // received
	Frames   int    // sound frames received
	Budget   int    // bytes that may still come before ErrFlood

	Sending  func(out []byte) error // called before each write; may be nil
	Received func(f contract.Frame) // called with each sound frame; may be nil

	link       link.Link
	connecting bool // HELLO was sent and has no answer yet
	buf        []byte
	in         []byte // received and not yet decoded
}

// New makes a session. It sends nothing.
func New(l link.Link) *Session {
	return &Session{link: l, Instant: link.Instant(l), Dec: contract.NewDecoder(contract.FromBoard), Budget: MaxBytes, buf: make([]byte, 4096)}
}

// Fork gives a second session in the same state at another link. The two share no variables.
func (s *Session) Fork(l link.Link) *Session {
	f, dec := *s, *s.Dec
	f.link, f.Instant, f.Dec, f.LastSent, f.Sending, f.Received = l, link.Instant(l), &dec, nil, nil, nil
	f.buf, f.in = make([]byte, len(s.buf)), append([]byte(nil), s.in...)
	return &f
}

// Send sends frames.
func (s *Session) Send(out []byte) error {
	s.LastSent = out
	if s.Sending != nil {
		if err := s.Sending(out); err != nil {
			return err
		}
	}
	_, err := s.link.Write(out)
	return err
}

// Frame gives the next sound frame of the bytes received.
func (s *Session) Frame() (f contract.Frame, ok bool) {
	f, s.in, ok = s.Dec.Next(s.in)
	if ok {
		s.Frames++
		if s.Received != nil {
			s.Received(f)
		}
	}
	return f, ok
}

// Next gives the next sound frame, and reads until there is one. The error may be os.ErrDeadlineExceeded, ErrFlood,
// the context's or the link's.
func (s *Session) Next(ctx context.Context, deadline time.Time) (contract.Frame, error) {
	for {
		if f, ok := s.Frame(); ok {
			return f, nil
		}
		if err := s.Read(ctx, deadline); err != nil {
			return contract.Frame{}, err
		}
	}
}

// Read waits until bytes come, for Frame or Unread. Over an instant link it does not wait: the error is then
// os.ErrDeadlineExceeded at once.
func (s *Session) Read(ctx context.Context, deadline time.Time) error {
	if s.Budget <= 0 {
		return s.flood()
	}
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		if !s.Instant {
			now := time.Now()
			if !now.Before(deadline) {
				return os.ErrDeadlineExceeded
			}
			if err := s.link.SetReadDeadline(now.Add(min(ContextCheck, deadline.Sub(now)))); err != nil {
				return err
			}
		}
		n, err := s.link.Read(s.buf)
		if n == 0 && !s.Instant && errors.Is(err, os.ErrDeadlineExceeded) {
			continue
		}
		s.add(s.buf[:n])
		return err
	}
}

// Feed adds bytes that the caller has read. They are used until Frame has no more.
func (s *Session) Feed(in []byte) error {
	if s.add(in); s.Budget <= 0 {
		return s.flood()
	}
	return nil
}

func (s *Session) add(in []byte) {
	s.in = in
	s.Bytes += len(in)
	s.Budget -= len(in)
}

func (s *Session) flood() error {
	return fmt.Errorf("%w: more than %d bytes at once", ErrFlood, MaxBytes)
}
