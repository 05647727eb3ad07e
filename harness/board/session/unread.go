package session

import (
	"errors"
	"os"
	"time"
)

// Unread gives the bytes that were received and not decoded, and drops them.
func (s *Session) Unread() []byte {
	in := s.in
	s.in = nil
	return in
}

// Idle says that there are no undecoded bytes.
func (s *Session) Idle() bool { return len(s.in) == 0 && !s.Dec.Pending() }

// Listen keeps what comes until a time, without decoding it: see UnreadFrames.
func (s *Session) Listen(until time.Time) error {
	s.Budget = MaxBytes
	came := append([]byte(nil), s.in...)
	defer func() { s.in = came }()
	if err := s.link.SetReadDeadline(until); err != nil {
		return err
	}
	for s.Budget > 0 {
		n, err := s.link.Read(s.buf)
		s.add(s.buf[:n])
		came = append(came, s.buf[:n]...)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	return s.flood()
}

// UnreadFrames counts the frames, sound or not, in the bytes that were received and not decoded.
func (s *Session) UnreadFrames() int {
	if len(s.in) == 0 {
		return 0
	}
	d, in, n := *s.Dec, s.in, 0
	for ok := true; ok; n++ {
		_, in, ok = d.Next(in)
	}
	n += d.Counts.Bad() - s.Dec.Counts.Bad() - 1
	if d.Pending() {
		n++
	}
	return n
}
