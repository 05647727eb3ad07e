//go:build linux || darwin || freebsd

package link_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"drystage/harness/link"
	"drystage/harness/link/linktest"
	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestMain lets the test binary play the program of an exec: address.
func TestMain(m *testing.M) {
	if len(os.Args) > 2 && os.Args[1] == "play" {
		play(os.Args[2], os.Args[3:])
		return
	}
	os.Exit(m.Run())
}

func play(part string, args []string) {
	switch part {
	case "echo":
		_, _ = io.Copy(os.Stdout, os.Stdin)
	case "die":
		fmt.Fprintln(os.Stderr, "no flash found")
		fmt.Fprint(os.Stdout, "last")
		os.Exit(3)
	case "args":
		fmt.Fprintf(os.Stdout, "%q", args)
		_, _ = io.Copy(io.Discard, os.Stdin)
	case "stubborn": // ignores requests to end, and has a child that does too
		signal.Ignore(syscall.SIGTERM, syscall.SIGHUP)
		if len(args) == 0 {
			c := exec.Command(os.Args[0], "play", "stubborn", "child")
			if err := c.Start(); err != nil {
				panic(err)
			}
			fmt.Fprintf(os.Stdout, "%d %d\n", os.Getpid(), c.Process.Pid)
		}
		select {}
	}
}

func openPart(t *testing.T, part string, opt link.Options) link.Link {
	l, err := link.Open(t.Context(), "exec:'"+os.Args[0]+"' play "+part, opt)
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	return l
}

func readUntil(t *testing.T, l link.Link, done func(got string) bool) string {
	var got []byte
	b := make([]byte, 256)
	require.NoError(t, l.SetReadDeadline(time.Now().Add(10*time.Second)))
	for !done(string(got)) {
		n, err := l.Read(b)
		require.NoError(t, err)
		got = append(got, b[:n]...)
	}
	return string(got)
}

func TestProgramKeepsTheLaws(t *testing.T) {
	l := openPart(t, "echo", link.Options{})
	assert.False(t, link.Instant(l))
	require.NoError(t, linktest.Check(l))
}

func TestProgramGetsItsWords(t *testing.T) {
	l := openPart(t, `args 'two words' "x\"y" ''`, link.Options{})
	want := `["two words" "x\"y" ""]`
	assert.Equal(t, want, readUntil(t, l, func(got string) bool { return strings.HasSuffix(got, "]") }))
}

func TestProgramDies(t *testing.T) {
	var stderr bytes.Buffer
	l := openPart(t, "die", link.Options{Stderr: &stderr})
	assert.Equal(t, "last", readUntil(t, l, func(got string) bool { return len(got) >= 4 }), "what it said last is not lost")
	require.NoError(t, l.SetReadDeadline(time.Now().Add(10*time.Second)))
	_, err := l.Read(make([]byte, 8))
	assert.ErrorIs(t, err, link.ErrGone)
	assert.ErrorContains(t, err, "exit status 3; its last words: no flash found")
	_, err = l.Write([]byte("x"))
	assert.ErrorIs(t, err, link.ErrGone)
	assert.Contains(t, stderr.String(), "no flash found")
	require.NoError(t, l.Close())
	require.NoError(t, l.Close())
}

// A program that ignores SIGTERM, and the program that it has started, are gone after Close.
func TestCloseEndsTheWholeGroup(t *testing.T) {
	l := openPart(t, "stubborn", link.Options{})
	var pid, child int
	_, err := fmt.Sscan(readUntil(t, l, func(got string) bool { return strings.HasSuffix(got, "\n") }), &pid, &child)
	require.NoError(t, err)
	require.NoError(t, syscall.Kill(pid, 0), "it runs")
	require.NoError(t, l.Close())
	assert.ErrorIs(t, syscall.Kill(pid, 0), syscall.ESRCH, "reaped")
	assert.Eventually(t, func() bool { return gone(child) }, 5*time.Second, time.Millisecond, "its child was killed")
}

// gone says that a process is dead, reaped by its new parent or not.
func gone(pid int) bool {
	if syscall.Kill(pid, 0) != nil {
		return true
	}
	stat, err := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/stat")
	return err != nil || strings.Contains(string(stat), ") Z ")
}

func TestCloseInterruptsARead(t *testing.T) {
	l := openPart(t, "echo", link.Options{})
	got := make(chan error)
	go func() {
		_, err := l.Read(make([]byte, 1))
		got <- err
	}()
	require.NoError(t, l.Close())
	assert.Error(t, <-got)
}

// A real serial path: a pseudo-terminal whose master this test holds.
func TestSerialOverPseudoTerminal(t *testing.T) {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	name := slave.Name()
	defer slave.Close()
	go func() { _, _ = io.Copy(master, master) }()
	l, err := link.Open(t.Context(), "serial:"+name+"?baud=230400", link.Options{})
	require.NoError(t, err)
	require.NoError(t, linktest.Check(l))
	master.Close()
}

func TestSerialHangsUp(t *testing.T) {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	l, err := link.Open(t.Context(), "serial:"+slave.Name(), link.Options{Baud: 57600})
	require.NoError(t, err)
	defer l.Close()
	slave.Close()
	master.Close()
	require.NoError(t, l.SetReadDeadline(time.Now().Add(10*time.Second)))
	_, err = l.Read(make([]byte, 1))
	assert.ErrorIs(t, err, link.ErrGone)
	assert.ErrorContains(t, err, "port gone")
}

func BenchmarkProgramRoundTrip(b *testing.B) {
	l, err := link.Open(b.Context(), "exec:'"+os.Args[0]+"' play echo", link.Options{})
	require.NoError(b, err)
	defer l.Close()
	buf := make([]byte, 40)
	for b.Loop() {
		if _, err := l.Write(buf); err != nil {
			b.Fatal(err)
		}
		for n := 0; n < len(buf); {
			k, err := l.Read(buf[n:])
			if err != nil {
				b.Fatal(err)
			}
			n += k
		}
	}
}

// A program that held the slave side of its own line, or another's, would outlive us when we are killed.
func TestExecInheritsNothing(t *testing.T) {
	first, err := link.Open(t.Context(), "exec:cat", link.Options{})
	require.NoError(t, err)
	defer first.Close()
	second, err := link.Open(t.Context(), "exec:sh -c 'ls /dev/fd; echo end'", link.Options{})
	require.NoError(t, err)
	defer second.Close()
	require.NoError(t, second.SetReadDeadline(time.Now().Add(10*time.Second)))
	var said strings.Builder
	for b := make([]byte, 256); !strings.Contains(said.String(), "end"); {
		n, err := second.Read(b)
		require.NoError(t, err, said.String())
		said.Write(b[:n])
	}
	assert.LessOrEqual(t, len(strings.Fields(said.String())), 5, "0, 1, 2, the folder that is listed, and end: %s", said.String())
}
