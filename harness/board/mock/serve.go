package mock

import (
	"errors"
	"fmt"
	"io"
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
	g.clock = func() int64 { return time.Since(start).Microseconds() }
	over := make(chan struct{})
	defer close(over)
	line := listen(rw, over)
	out := make([]byte, 0, 4096)
	quiet := time.NewTimer(patience)
	for {
		var beats <-chan time.Time
		if g.realTime {
			beats = time.After(beat)
		}
		var end error
		select {
		case h := <-line:
			out, end = g.Feed(h.bytes, out[:0]), h.err
			quiet.Reset(patience)
			h.read <- struct{}{}
		case <-beats:
			out = g.Pass(out[:0])
		case <-quiet.C:
			out = g.Silence(out[:0])
		}
		if len(out) > 0 {
			if _, werr := rw.Write(out); werr != nil {
				return fmt.Errorf("mock: the answer could not be sent: %w", werr)
			}
		}
		switch {
		case errors.Is(end, io.EOF):
			return nil
		case end != nil:
			return fmt.Errorf("mock: the line broke: %w", end)
		}
	}
}

// heard is what one Read gave; read says that its bytes may be overwritten.
type heard struct {
	bytes []byte
	err   error
	read  chan struct{}
}

// listen reads until the pipe ends, or until nobody listens any more.
func listen(r io.Reader, over <-chan struct{}) <-chan heard {
	all := make(chan heard)
	go func() {
		b, read := make([]byte, 4096), make(chan struct{}, 1)
		for {
			n, err := r.Read(b)
			select {
			case all <- heard{b[:n], err, read}:
			case <-over:
				return
			}
			<-read
			if err != nil {
				return
			}
		}
	}()
	return all
}
