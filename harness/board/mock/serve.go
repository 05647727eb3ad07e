package mock

import (
	"errors"
	"fmt"
	"io"
	"sync"
	"syscall"
	"time"
)

const (
	patience = 5 * time.Second      // of silence, until all outputs go off
	beat     = 5 * time.Millisecond // in real time the board decides at least as often
)

// Serve plays the board on a byte pipe, such as a pseudo-terminal, until the pipe ends. The
// non-volatile memory lives as long as the call. In real time the board goes by its own clock.
func Serve(rw io.ReadWriter, defect string) error {
	g, err := New(defect)
	if err != nil {
		return err
	}
	start := time.Now()
	g.SetClock(func() int64 { return time.Since(start).Microseconds() })
	s := server{w: rw, guest: g, out: make([]byte, 0, 4096), heard: start}
	s.begin()
	defer s.end()
	in := make([]byte, 4096)
	for {
		n, err := rw.Read(in)
		if werr := s.feed(in[:n]); werr != nil {
			return fmt.Errorf("mock: the answer could not be sent: %w", werr)
		}
		switch {
		case errors.Is(err, io.EOF), errors.Is(err, syscall.EIO): // a pseudo-terminal whose other end was closed
			return nil
		case err != nil:
			return fmt.Errorf("mock: the line broke: %w", err)
		}
	}
}

// server shares a guest between its line and its timer.
type server struct {
	mu    sync.Mutex
	w     io.Writer
	guest *Guest
	out   []byte
	heard time.Time
	timer *time.Timer
	err   error // of writing
	over  bool
}

func (s *server) begin() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.timer = time.AfterFunc(patience, s.pass)
}

func (s *server) feed(in []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.heard = time.Now()
	lockstep := !s.guest.realTime
	s.say(s.guest.Feed(in, s.out[:0]))
	if lockstep && s.guest.realTime {
		s.timer.Reset(beat)
	}
	return s.err
}

// pass is what happens without a byte.
func (s *server) pass() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.over {
		return
	}
	left := patience - time.Since(s.heard)
	if left <= 0 {
		s.say(s.guest.Silence(s.out[:0]))
		left = patience
	}
	if s.guest.realTime {
		s.say(s.guest.Pass(s.out[:0]))
		left = min(left, beat)
	}
	s.timer.Reset(left)
}

func (s *server) say(out []byte) {
	if s.out = out; len(out) > 0 && s.err == nil {
		_, s.err = s.w.Write(out)
	}
}

func (s *server) end() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.over = true
	s.timer.Stop()
}
