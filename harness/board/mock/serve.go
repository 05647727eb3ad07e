package mock

import (
	"errors"
	"fmt"
	"io"
)

// Serve plays the board on a byte pipe, such as a pseudo-terminal, until the pipe ends. The
// non-volatile memory lives as long as the call.
func Serve(rw io.ReadWriter, defect string) error {
	g, err := New(defect)
	if err != nil {
		return err
	}
	in, out := make([]byte, 4096), make([]byte, 0, 4096)
	for {
		n, err := rw.Read(in)
		if out = g.Feed(in[:n], out[:0]); len(out) > 0 {
			if _, werr := rw.Write(out); werr != nil {
				return fmt.Errorf("mock: the answer could not be sent: %w", werr)
			}
		}
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return fmt.Errorf("mock: the line broke: %w", err)
		}
	}
}
