//go:build linux || darwin || freebsd

package link_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
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
	case "ends": // says that it runs, reads its line to the end, and ends as it is told
		fmt.Fprintln(os.Stdout, "up")
		_, _ = io.Copy(io.Discard, os.Stdin) // hung up: an error
		switch args[0] {
		case "signal":
			die("SEGV")
		default:
			n, _ := strconv.Atoi(args[0])
			os.Exit(n)
		}
	case "crash": // on the first byte
		fmt.Fprintln(os.Stdout, "up")
		_, _ = os.Stdin.Read(make([]byte, 1))
		die("ABRT")
	case "quit":
		fmt.Fprintln(os.Stdout, "up")
		_, _ = os.Stdin.Read(make([]byte, 1))
		os.Exit(7)
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

// die ends this program by a signal; Go would turn it into an exit status.
func die(sig string) {
	panic(syscall.Exec("/bin/sh", []string{"sh", "-c", "ulimit -c 0; kill -" + sig + " $$"}, nil))
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
	assert.ErrorContains(t, err, "exit status 3; standard error ended with: no flash found")
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

// TestProgramsEnd: how programs end that get BYE, one byte here, and then lose their line.
func TestProgramsEnd(t *testing.T) {
	for _, c := range []struct {
		reason, part string
		want         link.End
	}{
		{"it ends with its line", "ends 0", link.End{}},
		{"it fails when its line has ended", "ends 3", link.End{Status: 3}},
		{"it crashes when its line has ended", "ends signal", link.End{Signal: "segmentation fault"}},
		{"it crashes when it is told that the run is over", "crash", link.End{Signal: "aborted"}},
		{"it fails when it is told that the run is over", "quit", link.End{Status: 7}},
		{"it asks to be killed", "stubborn", link.End{Signal: "killed", Forced: "terminated"}},
	} {
		t.Run(c.reason, func(t *testing.T) {
			l := openPart(t, c.part, link.Options{})
			readUntil(t, l, func(got string) bool { return strings.HasSuffix(got, "\n") })
			_, err := l.Write([]byte{0})
			require.NoError(t, err)
			p, ok := l.(link.Program)
			require.True(t, ok)
			got := p.End()
			if got.Signal == "aborted" || got.Signal == "segmentation fault" || got.Signal == "" {
				got.Forced = "" // a busy machine may be too slow to let it end before it is asked to
			}
			assert.Equal(t, c.want, got)
			_, err = l.Write([]byte{0})
			assert.ErrorIs(t, err, os.ErrClosed)
			assert.Equal(t, p.End(), p.End(), "twice is fine")
			require.NoError(t, l.Close())
		})
	}
}

// TestNothingOutlivesItsProgram: what a program has started is gone when the program has ended or its link was
// closed, on Linux in whatever session it is.
func TestNothingOutlivesItsProgram(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("elsewhere only what stays in the program's group is found")
	}
	deaf := `sh -c 'echo $$; exec sleep 300'`
	for name, script := range map[string]string{
		"a child":              deaf + " & wait",
		"a double fork":        "(" + deaf + " &) ; cat >/dev/null",
		"a session of its own": "setsid " + deaf + " & cat >/dev/null",
		"both":                 "(setsid sh -c \"(" + strings.ReplaceAll(deaf, "$", `\$`) + " &)\" &) ; cat >/dev/null",
		"one left behind":      "setsid " + deaf + " & head -c 1 >/dev/null", // it ends first
	} {
		for how, end := range map[string]func(link.Link){
			"closed": func(l link.Link) { assert.NoError(t, l.Close()) },
			"ended":  func(l link.Link) { l.(link.Program).End() },
		} {
			t.Run(name+" "+how, func(t *testing.T) {
				file := filepath.Join(t.TempDir(), "board")
				require.NoError(t, os.WriteFile(file, []byte("#!/bin/sh\n"+script+"\n"), 0o755))
				l, err := link.Open(t.Context(), "exec:'"+file+"'", link.Options{})
				require.NoError(t, err)
				t.Cleanup(func() { l.Close() })
				var pid int
				_, err = fmt.Sscan(readUntil(t, l, func(got string) bool { return strings.HasSuffix(got, "\n") }), &pid)
				require.NoError(t, err)
				if name == "one left behind" {
					_, err := l.Write([]byte{0})
					require.NoError(t, err)
					for err == nil {
						_, err = l.Read(make([]byte, 1))
					}
					require.ErrorIs(t, err, link.ErrGone)
				}
				end(l)
				assert.ErrorIs(t, syscall.Kill(pid, 0), syscall.ESRCH, "%d is gone and reaped", pid)
			})
		}
	}
}

// gone says that a process has ended, reaped by its new parent or not.
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

// A program that never reads fills its line; that is said within the time-out.
func TestProgramThatTakesNothing(t *testing.T) {
	l, err := link.Open(t.Context(), "exec:sleep 60", link.Options{})
	require.NoError(t, err)
	defer l.Close()
	for err == nil {
		_, err = l.Write(make([]byte, 1<<16))
	}
	assert.ErrorIs(t, err, link.ErrStuck)
	assert.ErrorContains(t, err, "does the board run, and read?")
}

// What a program writes after its line was hung up does not kill it.
func TestProgramWritesAfterTheEnd(t *testing.T) {
	l, err := link.Open(t.Context(), "exec:sh -c 'cat; echo late; exit 5'", link.Options{})
	require.NoError(t, err)
	assert.Equal(t, link.End{Status: 5}, l.(interface{ End() link.End }).End())
}

// A program that closes its output but goes on is lost at once.
func TestProgramClosesItsLine(t *testing.T) {
	l, err := link.Open(t.Context(), "exec:sh -c 'exec <&- >&-; exec sleep 60'", link.Options{})
	require.NoError(t, err)
	defer l.Close()
	require.NoError(t, l.SetReadDeadline(time.Now().Add(10*time.Second)))
	_, err = l.Read(make([]byte, 1))
	assert.ErrorIs(t, err, link.ErrGone)
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
