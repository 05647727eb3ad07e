package conformance

import (
	"errors"
	"os"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
)

// timely is a link in real time: a read with nothing to read waits for its deadline, and the board's own clock goes
// on.
type timely struct {
	link.Link
	board    *mock.Board
	watchful bool // the board goes dark by itself
	last     time.Time
	deadline time.Time
	said     []byte
}

func (l *timely) SetReadDeadline(t time.Time) error { l.deadline = t; return nil }

func (l *timely) Write(b []byte) (int, error) {
	l.last = time.Now()
	return l.Link.Write(b)
}

func (l *timely) Read(b []byte) (int, error) {
	n, err := l.Link.Read(b)
	if !errors.Is(err, os.ErrDeadlineExceeded) {
		return n, err
	}
	for time.Until(l.deadline) > 0 && len(l.said) == 0 {
		time.Sleep(min(5*time.Millisecond, time.Until(l.deadline)))
		l.said = l.board.Pass(l.said)
	}
	if l.watchful && time.Since(l.last) >= 5*time.Second {
		l.said = l.board.Silence(l.said)
	}
	if n = copy(b, l.said); n > 0 {
		l.said = l.said[n:]
		return n, nil
	}
	return 0, os.ErrDeadlineExceeded
}

// TestSilence: a pulse that does not end while nothing is sent fails that point alone.
func TestSilence(t *testing.T) {
	for _, watchful := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			g, err := mock.New("")
			require.NoError(t, err)
			start := time.Now()
			g.SetClock(func() int64 { return time.Since(start).Microseconds() })
			r := Run(t.Context(), &timely{Link: link.Memory(g), board: g, watchful: watchful}, Options{Settings: mockSets})
			if watchful {
				assert.Equal(t, harness.Pass, r.Answer(), "%s", text(&r))
				return
			}
			assert.Equal(t, []string{"outputs go off when no byte has come for 5 s"}, named(&r, Fail), "%s", text(&r))
		})
	}
}

// TestSilenceDeclared: an emulator whose time stands still may leave it out, and the report says so.
func TestSilenceDeclared(t *testing.T) {
	r := Run(t.Context(), slow{mockLink(t, "")}, Options{Timeout: 20 * time.Millisecond, Settings: mockSets, Without: Silence})
	assert.Equal(t, []string{"outputs go off when no byte has come for 5 s"}, named(&r, NotClaimed))
	assert.Contains(t, r.Verdict("mock", 1).Title, "outputs go off when no byte has come for 5 s")
}
