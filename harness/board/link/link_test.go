package link_test

import (
	"context"
	"errors"
	"io"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// echo is a device that sends every byte back.
type echo struct{}

func (echo) Feed(in, out []byte) []byte { return append(out, in...) }

func TestMemoryKeepsTheLaws(t *testing.T) {
	require.NoError(t, linktest.Check(link.Memory(echo{})))
	assert.True(t, link.Instant(link.Memory(echo{})))
	assert.True(t, link.Instant(linktest.OneByte(link.Memory(echo{}))), "wrapped, it is still instant")
}

func TestMemoryAllocatesNothing(t *testing.T) {
	l := link.Memory(echo{})
	b := make([]byte, 64)
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		_, _ = l.Write(b)
		_, _ = l.Read(b)
	}))
}

func TestSocketsKeepTheLaws(t *testing.T) {
	for _, c := range []struct{ network, address string }{
		{"unix", filepath.Join(t.TempDir(), "s")},
		{"tcp", "127.0.0.1:0"},
	} {
		l, err := net.Listen(c.network, c.address)
		require.NoError(t, err)
		defer l.Close()
		go func() {
			for {
				conn, err := l.Accept()
				if err != nil {
					return
				}
				go func() { _, _ = io.Copy(conn, conn); conn.Close() }()
			}
		}()
		s, err := link.Open(t.Context(), c.network+":"+l.Addr().String(), link.Options{})
		require.NoError(t, err)
		require.NoError(t, linktest.Check(s), c.network)
		assert.False(t, link.Instant(s))
	}
}

func TestSocketHangsUp(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	s, err := link.Open(t.Context(), "tcp:"+l.Addr().String(), link.Options{})
	require.NoError(t, err)
	defer s.Close()
	conn, err := l.Accept()
	require.NoError(t, err)
	conn.Close()
	_, err = s.Read(make([]byte, 1))
	assert.ErrorIs(t, err, link.ErrGone)
	assert.ErrorContains(t, err, "tcp:127.0.0.1")
}

func TestBadAddresses(t *testing.T) {
	for _, c := range []struct{ reason, address, want string }{
		{"a slip of the finger", "seral:/dev/ttyUSB0", `unknown kind; did you mean "serial"?; use one of: serial:PORT?baud=N, exec:PROGRAM ARGS, unix:PATH, tcp:HOST:PORT`},
		{"nothing near", "bluetooth:x", "unknown kind; use one of: serial"},
		{"empty", "", "unknown kind; use one of"},
		{"no port", "serial:", "ends too early; write it as serial:PORT?baud=N"},
		{"no program", "exec:  ", "ends too early; write it as exec:PROGRAM ARGS"},
		{"no such port", "serial:/dev/drystage-none", "link: serial:/dev/drystage-none: "},
		{"a folder is no port", "serial:/", "link: serial:/: "},
		{"an option near baud", "serial:/dev/x?buad=9600", `unknown option "buad"; did you mean "baud"?; the options are baud, reset and boot`},
		{"baud is no number", "serial:/dev/x?baud=fast", "baud=fast is not a whole number"},
		{"baud below the range", "serial:/dev/x?baud=-1", "baud=-1 is outside 300 to 12000000"},
		{"a reset by no modem line", "serial:/dev/x?reset=cts", "reset=cts is neither dtr nor rts"},
		{"a boot without unit", "serial:/dev/x?boot=5", "boot=5 is not a span from 0s to 1m, such as 500ms"},
		{"half an identity", "serial:usb=2341", `"2341" is no USB identity; write usb=VID:PID or usb=VID:PID:SERIALNUMBER`},
		{"an identity in decimal digits", "serial:usb=9025:67", `"67" in usb=9025:67 is not four hexadecimal digits`},
		{"not a terminal", "serial:/dev/null", "not a serial port"},
		{"a broken query", "serial:/dev/x?baud=%zz", "can't read"},
		{"no port number", "tcp:localhost", "write it as tcp:HOST:PORT"},
		{"nobody listens", "unix:/nowhere/at/all", "does anything listen there?"},
		{"an open quote", "exec:board 'x", "the quote ' is not closed"},
		{"an open backslash", `exec:board \`, "a backslash stands at the end"},
		{"no such program", "exec:drystage-no-such-program", "executable file not found"},
	} {
		l, err := link.Open(t.Context(), c.address, link.Options{})
		require.Error(t, err, c.reason)
		assert.Nil(t, l, c.reason)
		assert.ErrorContains(t, err, c.want, c.reason)
		assert.ErrorContains(t, err, "link: ", c.reason)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := link.Open(ctx, "tcp:127.0.0.1:1", link.Options{})
	assert.ErrorIs(t, err, context.Canceled)
}

func TestSpoilers(t *testing.T) {
	read := func(l link.Link) (got []byte, err error) {
		b := make([]byte, 64)
		for range 10 {
			n, err := l.Read(b)
			if got = append(got, b[:n]...); err != nil {
				return got, err
			}
		}
		return got, errors.New("endless")
	}
	mem := func() link.Link { return link.Memory(echo{}) }
	for _, c := range []struct {
		reason string
		l      link.Link
		got    string
		err    error
	}{
		{"untouched", linktest.OneByte(mem()), "abcd", os.ErrDeadlineExceeded},
		{"cut while writing", linktest.CutAfter(mem(), 2), "", link.ErrGone},
		{"cut while reading", linktest.CutAfter(mem(), 6), "ab", link.ErrGone},
		{"one bit going out", linktest.Flip(mem(), 1), "a`cd", os.ErrDeadlineExceeded},
		{"one bit coming back", linktest.Flip(mem(), 4), "qbcd", os.ErrDeadlineExceeded},
		{"beyond what is sent", linktest.Flip(mem(), 9), "abcd", os.ErrDeadlineExceeded},
		{"silent", linktest.Silent(mem()), "", os.ErrDeadlineExceeded},
	} {
		_, _ = c.l.Write([]byte("abcd"))
		got, err := read(c.l)
		assert.Equal(t, c.got, string(got), c.reason)
		assert.ErrorIs(t, err, c.err, c.reason)
	}
	got, err := read(linktest.Flood(mem(), 'x'))
	assert.Len(t, got, 640)
	assert.ErrorContains(t, err, "endless")
}

// liar breaks one rule of a link, so that Check finds something.
type liar struct {
	link.Link
	late error
	drop bool
}

func (l *liar) Read(b []byte) (int, error) {
	n, err := l.Link.Read(b)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return 0, l.late
	}
	return n, err
}

func (l *liar) Write(b []byte) (int, error) {
	if l.drop && len(b) > 1000 {
		return l.Link.Write(b[:1000])
	}
	return l.Link.Write(b)
}

func TestCheckFindsLiars(t *testing.T) {
	for _, c := range []struct {
		l    link.Link
		want string
	}{
		{&liar{Link: link.Memory(echo{}), late: io.EOF}, "nothing to read is late"},
		{&liar{Link: link.Memory(echo{})}, "nothing to read is late"},
		{&liar{Link: link.Memory(echo{}), late: os.ErrDeadlineExceeded, drop: true}, "a long write"},
		{linktest.Flip(link.Memory(echo{}), 300), "all 256 bytes"},
		{linktest.CutAfter(link.Memory(echo{}), 520), "small buffer"},
	} {
		assert.ErrorContains(t, linktest.Check(c.l), c.want)
	}
	late := time.Now().Add(time.Hour)
	require.NoError(t, link.Memory(echo{}).SetReadDeadline(late), "memory is late at once, whatever the deadline")
}
