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
	silenceLimit = 5 * time.Second      // without input, after which all outputs go off
	maxInterval  = 5 * time.Millisecond // in real time, the logic runs at least this often
)

// Serve runs the board on a byte stream, such as a pseudo-terminal, until the stream ends. The non-volatile memory is
// kept during the call. In real time the board uses its own clock.
func Serve(rw io.ReadWriter, defect string) error {
	g, err := New(defect)
	if err != nil {
		return err
	}
	start := time.Now()
	g.SetClock(func() int64 { return time.Since(start).Microseconds() })
	s := server{w: rw, guest: g, out: make([]byte, 0, 4096), lastInput: start}
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
	mu        sync.Mutex
	w         io.Writer
	guest     *Board
	out       []byte
	lastInput time.Time
	timer     *time.Timer
	err       error // of writing
	closed    bool
}

func (s *server) begin() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.timer = time.AfterFunc(silenceLimit, s.onTimer)
}

func (s *server) feed(in []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lastInput = time.Now()
	lockstep := !s.guest.realTime
	s.write(s.guest.Feed(in, s.out[:0]))
	if lockstep && s.guest.realTime {
		s.timer.Reset(maxInterval)
	}
	return s.err
}

// onTimer runs what has to happen without input.
func (s *server) onTimer() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return
	}
	left := silenceLimit - time.Since(s.lastInput)
	if left <= 0 {
		s.write(s.guest.Silence(s.out[:0]))
		left = silenceLimit
	}
	if s.guest.realTime {
		s.write(s.guest.Pass(s.out[:0]))
		left = min(left, maxInterval)
	}
	s.timer.Reset(left)
}

func (s *server) write(out []byte) {
	if s.out = out; len(out) > 0 && s.err == nil {
		_, s.err = s.w.Write(out)
	}
}

func (s *server) end() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	s.timer.Stop()
}
