package link

import (
	"context"
	"errors"
	"fmt"
	"os"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"go.bug.st/serial"
)

// fake is a serial port that behaves as those of go.bug.st/serial.
type fake struct {
	read    func(b []byte) (int, error)
	write   func(b []byte) (int, error)
	timeout time.Duration
	closes  int
}

func (f *fake) Read(b []byte) (int, error)           { return f.read(b) }
func (f *fake) Write(b []byte) (int, error)          { return f.write(b) }
func (f *fake) Close() error                         { f.closes++; return nil }
func (f *fake) SetReadTimeout(d time.Duration) error { f.timeout = d; return nil }

func TestPortWrapsItsWays(t *testing.T) {
	empty := func([]byte) (int, error) { return 0, nil }
	broken := func([]byte) (int, error) { return 0, errors.New("input/output error") }
	for _, c := range []struct {
		reason   string
		deadline time.Time
		read     func([]byte) (int, error)
		want     error
	}{
		{"nothing after the deadline is late", time.Now().Add(-time.Second), empty, os.ErrDeadlineExceeded},
		{"nothing before the deadline, again and again, is a hang-up", time.Now().Add(time.Hour), empty, ErrGone},
		{"nothing without a deadline too", time.Time{}, empty, ErrGone},
		{"an error is a hang-up", time.Time{}, broken, ErrGone},
	} {
		p := &port{serial: &fake{read: c.read}, name: "serial:x", deadline: c.deadline}
		n, err := p.Read(make([]byte, 4))
		assert.Zero(t, n, c.reason)
		assert.ErrorIs(t, err, c.want, c.reason)
	}
}

func TestPortWaitsForEverWithoutDeadline(t *testing.T) {
	f := &fake{read: func(b []byte) (int, error) { return copy(b, "x"), nil }}
	p := &port{serial: f, name: "serial:x"}
	n, err := p.Read(make([]byte, 4))
	assert.Equal(t, 1, n)
	assert.NoError(t, err)
	assert.Equal(t, serial.NoTimeout, f.timeout)
}

func TestPortSurvivesAPanicBelow(t *testing.T) {
	p := &port{serial: &fake{read: func([]byte) (int, error) { panic("index out of range [1024]") }}, name: "serial:x"}
	_, err := p.Read(make([]byte, 4))
	assert.ErrorContains(t, err, "too many open files")
}

func TestPortWritesItAll(t *testing.T) {
	var sent []byte
	f := &fake{write: func(b []byte) (int, error) { sent = append(sent, b[:1]...); return 1, nil }}
	p := &port{serial: f, name: "serial:x"}
	n, err := p.Write([]byte("abc"))
	assert.NoError(t, err)
	assert.Equal(t, 3, n)
	assert.Equal(t, "abc", string(sent))

	f.write = func([]byte) (int, error) { return 0, nil }
	_, err = p.Write([]byte("abc"))
	assert.ErrorIs(t, err, ErrGone, "a port that takes nothing is gone, not tried for ever")

	assert.NoError(t, p.Close())
	assert.NoError(t, p.Close())
	assert.Equal(t, 1, f.closes)
	_, err = p.Write([]byte("a"))
	assert.ErrorIs(t, err, os.ErrClosed)
}

// boardPort plays the modem lines of a serial port too.
type boardPort struct {
	fake
	lines   []string
	dropped int
	err     error
}

func (b *boardPort) SetDTR(on bool) error    { return b.note("dtr", on) }
func (b *boardPort) SetRTS(on bool) error    { return b.note("rts", on) }
func (b *boardPort) ResetInputBuffer() error { b.dropped++; return nil }

func (b *boardPort) note(line string, on bool) error {
	b.lines = append(b.lines, fmt.Sprint(line, " ", on))
	return b.err
}

func TestResetPulsesTheLine(t *testing.T) {
	for _, line := range []string{"dtr", "rts"} {
		synctest.Test(t, func(t *testing.T) {
			b := &boardPort{}
			began := time.Now()
			assert.NoError(t, (&port{serial: b}).reset(t.Context(), line, DefaultBoot))
			assert.Equal(t, []string{line + " false", line + " true"}, b.lines)
			assert.Equal(t, resetPulse+DefaultBoot, time.Since(began), "the pulse, and the wait for the boot")
			assert.Equal(t, 1, b.dropped, "what it said while booting is dropped")
		})
	}
	b := &boardPort{err: errors.New("inappropriate ioctl for device")}
	assert.ErrorContains(t, (&port{serial: b}).reset(t.Context(), "dtr", 0), "no modem lines")
	ctx, stop := context.WithCancel(t.Context())
	stop()
	b = &boardPort{}
	assert.ErrorIs(t, (&port{serial: b}).reset(ctx, "dtr", time.Hour), context.Canceled)
	assert.Equal(t, []string{"dtr false", "dtr true"}, b.lines, "interrupted, the board is not held in reset")
}
