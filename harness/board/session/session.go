// Package session is the bench's side of the contract over one link: it says HELLO until a board answers, sends
// frames, reads frames, and waits for answers. A run, a measurement of a rig and a test of a board all use it.
//
// It never waits without a limit of time and of bytes, never decides what an answer is worth, and never sends
// anything twice but HELLO.
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
	// MaxBytes is the most that a board may send while one answer is waited for. A fast serial line carries less
	// within DefaultTimeout.
	MaxBytes = 64 << 10
	// Glance is how often a wait looks whether its context is done.
	Glance = 100 * time.Millisecond
	// DefaultTimeout is how long a board may take for an answer.
	DefaultTimeout = 2 * time.Second
)

// Session is one board at the other end of a link. It is for one goroutine.
type Session struct {
	Enc     contract.Encoder
	Dec     *contract.Decoder
	Instant bool // the link takes no time: what is not there at once does not come

	Nonce        uint32           // of the last HELLO
	Welcome      contract.Welcome // of the board as it is known; its owner puts it here
	Foreigners   int              // WELCOMEs with another nonce since the last Begin
	ForeignNonce uint32           // the nonce of the last of them

	Out    []byte // what was sent last; its memory may be used again
	Bytes  int    // that have come
	Frames int    // sound frames among them
	Budget int    // bytes that may still come until ErrFlood

	Sending  func(out []byte) error // is told of all that is sent, before; may be nil
	Received func(f contract.Frame) // is told of every sound frame; may be nil

	link    link.Link
	waiting bool // HELLO has no answer yet
	buf     []byte
	in      []byte // what has come and is not decoded yet
}

// New begins a session. Nothing is sent yet.
func New(l link.Link) *Session {
	return &Session{link: l, Instant: link.Instant(l), Dec: contract.NewDecoder(contract.FromBoard), Budget: MaxBytes, buf: make([]byte, 4096)}
}

// Fork gives a second session in the same state at another link. The two share nothing that changes.
func (s *Session) Fork(l link.Link) *Session {
	f, dec := *s, *s.Dec
	f.link, f.Instant, f.Dec, f.Out, f.Sending, f.Received = l, link.Instant(l), &dec, nil, nil, nil
	f.buf, f.in = make([]byte, len(s.buf)), append([]byte(nil), s.in...)
	return &f
}

// Send sends frames.
func (s *Session) Send(out []byte) error {
	s.Out = out
	if s.Sending != nil {
		if err := s.Sending(out); err != nil {
			return err
		}
	}
	_, err := s.link.Write(out)
	return err
}

// Frame gives the next sound frame of what has come.
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

// Next gives the next sound frame, and reads until there is one. The error may be os.ErrDeadlineExceeded,
// ErrFlood, the context's or the link's.
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

// Read waits until something comes, for Frame or Take. Over an instant link it does not wait: the error is
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
			if err := s.link.SetReadDeadline(now.Add(min(Glance, deadline.Sub(now)))); err != nil {
				return err
			}
		}
		n, err := s.link.Read(s.buf)
		if n == 0 && !s.Instant && errors.Is(err, os.ErrDeadlineExceeded) {
			continue
		}
		s.came(s.buf[:n])
		return err
	}
}

// Feed takes in bytes that somebody else has read. They are used until Frame has no more.
func (s *Session) Feed(in []byte) error {
	if s.came(in); s.Budget <= 0 {
		return s.flood()
	}
	return nil
}

func (s *Session) came(in []byte) {
	s.in = in
	s.Bytes += len(in)
	s.Budget -= len(in)
}

func (s *Session) flood() error {
	return fmt.Errorf("%w: more than %d bytes at once", ErrFlood, MaxBytes)
}
