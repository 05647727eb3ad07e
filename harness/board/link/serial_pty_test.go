//go:build linux || darwin || freebsd

package link_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"

	"drystage/harness/board/link"
	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// cable is a pseudo-terminal whose slave has a symlink, as device managers make for a board.
func cable(t *testing.T) (master *os.File, path string) {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	path = filepath.Join(t.TempDir(), "board")
	require.NoError(t, os.Symlink(slave.Name(), path))
	t.Cleanup(func() { master.Close(); slave.Close() })
	return master, path
}

func TestSpeedsAreTaken(t *testing.T) {
	_, path := cable(t)
	for _, baud := range []int{9600, 115200, 250_000, 1_000_000, 2_000_000, 3_000_000, 4_000_000} {
		l, err := link.Open(t.Context(), fmt.Sprintf("serial:%s?baud=%d", path, baud), link.Options{})
		require.NoError(t, err, baud)
		require.NoError(t, l.Close())
	}
}

// The exclusive mode of a terminal lets root in; the lock does not.
func TestPortIsForOneOnly(t *testing.T) {
	_, path := cable(t)
	l, err := link.Open(t.Context(), "serial:"+path, link.Options{})
	require.NoError(t, err)
	_, err = link.Open(t.Context(), "serial:"+path, link.Options{})
	assert.ErrorContains(t, err, "busy: another program has it open, close that one first")
	require.NoError(t, l.Close())
	l, err = link.Open(t.Context(), "serial:"+path, link.Options{})
	require.NoError(t, err, "and free again after Close")
	l.Close()
}

func TestUnplugIsNamed(t *testing.T) {
	for _, c := range []struct {
		reason string
		unplug func(t *testing.T, path string)
		now    []link.Port
		want   string
	}{
		{"the name is gone", func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) }, nil, "is no longer there; check cable and supply, then run again"},
		{"hung up, the name is there", func(*testing.T, string) {}, nil, "port gone"},
		{"back under another name", func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) },
			[]link.Port{{Name: "/dev/ttyX", USB: true, ID: left.ID}}, "it was unplugged and is back at /dev/ttyX, run again"},
	} {
		if c.now != nil && !link.HasIdentities {
			continue
		}
		master, path := cable(t)
		ports := []link.Port{{Name: path, USB: true, ID: left.ID}}
		address := "serial:" + path
		if link.HasIdentities {
			address = "serial:usb=" + left.ID.String()
		}
		l, err := link.Open(t.Context(), address, link.Options{Ports: func() ([]link.Port, error) { return ports, nil }})
		require.NoError(t, err, c.reason)
		c.unplug(t, path)
		ports = c.now
		master.Close()
		require.NoError(t, l.SetReadDeadline(time.Now().Add(10*time.Second)))
		_, err = l.Read(make([]byte, 1))
		assert.ErrorIs(t, err, link.ErrGone, c.reason)
		assert.ErrorContains(t, err, c.want, c.reason)
		_, err = l.Write([]byte("x"))
		assert.Error(t, err, c.reason)
		require.NoError(t, l.Close(), c.reason)
	}
}

// A board that does not read stops the line after some 18 kB; a write must end all the same.
func TestWriteEndsThoughNobodyReads(t *testing.T) {
	_, path := cable(t)
	l, err := link.Open(t.Context(), "serial:"+path+"?baud=4000000", link.Options{})
	require.NoError(t, err)
	n, err := l.Write(make([]byte, 64<<10))
	assert.ErrorIs(t, err, link.ErrStuck)
	assert.Less(t, n, 64<<10)
	assert.ErrorContains(t, err, "does the board run, and read?")
	require.NoError(t, l.Close())
}

func TestCloseEndsAWriteThatHangs(t *testing.T) {
	_, path := cable(t)
	l, err := link.Open(t.Context(), "serial:"+path+"?baud=300", link.Options{})
	require.NoError(t, err)
	got := make(chan error)
	go func() {
		_, err := l.Write(make([]byte, 256<<10)) // would wait for hours at this speed
		got <- err
	}()
	for full := false; !full; runtime.Gosched() { // until the line takes no more
		_, w, err := pollOut(path)
		require.NoError(t, err)
		full = !w
	}
	require.NoError(t, l.Close())
	assert.ErrorIs(t, <-got, os.ErrClosed)
}

// pollOut says whether a terminal takes another byte, by a descriptor that never waits.
func pollOut(path string) (n int, ok bool, err error) {
	fd, err := syscall.Open(path, syscall.O_WRONLY|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return 0, false, err
	}
	defer syscall.Close(fd)
	n, err = syscall.Write(fd, []byte{0})
	if err == syscall.EAGAIN {
		return 0, false, nil
	}
	return n, true, err
}

func TestResetNeedsModemLines(t *testing.T) {
	_, path := cable(t)
	for _, way := range []string{"dtr", "rts"} {
		_, err := link.Open(t.Context(), "serial:"+path+"?reset="+way, link.Options{})
		assert.ErrorContains(t, err, "reset="+way+": this port has no modem lines to reset a board by")
		assert.ErrorContains(t, err, "leave reset= out, or wire a reset pin of a rig")
	}
	l, err := link.Open(t.Context(), "serial:"+path, link.Options{})
	require.NoError(t, err, "the failed openings have let the port go")
	l.Close()
}

// What a board wrote before anybody read is not lost, nor are bytes changed: the line is raw.
func TestLineIsRaw(t *testing.T) {
	master, path := cable(t)
	l, err := link.Open(t.Context(), "serial:"+path, link.Options{})
	require.NoError(t, err)
	defer l.Close()
	all := make([]byte, 256)
	for i := range all {
		all[i] = byte(i)
	}
	_, err = master.Write(all)
	require.NoError(t, err)
	require.NoError(t, l.SetReadDeadline(time.Now().Add(10*time.Second)))
	got := make([]byte, len(all))
	_, err = io.ReadFull(l, got)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(all, got))
}
