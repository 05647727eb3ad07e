//go:build linux || darwin || freebsd

package board_test

import (
	"io"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestMain lets the test binary play a guest on its standard input and output: "guest FLAW BYTES"
// exits with status 7 once it has said that many bytes. Its first byte says that it is up. "guest FLAW BYTES N" blocks for
// 300 ms before it takes what it has read the Nth time.
func TestMain(m *testing.M) {
	if len(os.Args) >= 4 && os.Args[1] == "guest" {
		flaw, _ := strconv.Atoi(os.Args[2])
		most, _ := strconv.Atoi(os.Args[3])
		os.Stdout.Write([]byte{0})
		in := io.Reader(os.Stdin)
		if len(os.Args) > 4 {
			block, _ := strconv.Atoi(os.Args[4])
			in = &blocking{os.Stdin, block}
		}
		if serve(in, os.Stdout, boardtest.Flaw(flaw), most) {
			os.Exit(7)
		}
		return
	}
	os.Exit(m.Run())
}

// blocking sleeps once, as a board does that waits for its memory card.
type blocking struct {
	io.Reader
	in int
}

func (b *blocking) Read(p []byte) (int, error) {
	n, err := b.Reader.Read(p)
	if b.in--; b.in == 0 {
		time.Sleep(300 * time.Millisecond)
	}
	return n, err
}

func serve(r io.Reader, w io.Writer, flaw boardtest.Flaw, most int) (full bool) {
	g := boardtest.NewFake(flaw)
	in := make([]byte, 1024)
	for said := 0; said < most; {
		n, err := r.Read(in)
		if err != nil {
			return false
		}
		out := g.Feed(in[:n], nil)
		if said += len(out); len(out) > 0 {
			if _, err := w.Write(out); err != nil {
				return false
			}
		}
	}
	return true
}

// program starts a guest and waits until it is up: how long a busy machine takes for that is no part of what it says.
func program(t testing.TB, words ...string) link.Link {
	l, err := link.Open(t.Context(), "exec:'"+os.Args[0]+"' guest "+strings.Join(words, " "), link.Options{})
	require.NoError(t, err)
	require.NoError(t, l.SetReadDeadline(time.Now().Add(patient)))
	_, err = l.Read(make([]byte, 1))
	require.NoError(t, err)
	return l
}

func process(t *testing.T, flaw boardtest.Flaw, most int, opt board.Options) *board.Client {
	c := board.NewClient(program(t, strconv.Itoa(int(flaw)), strconv.Itoa(most)), seat, boardtest.Bay(), opt)
	t.Cleanup(func() { c.Close() })
	return c
}

func TestProcessKeepsTheLaws(t *testing.T) {
	require.NoError(t, boardtest.Check(process(t, boardtest.None, 1<<30, board.Options{})))
}

// TestWallABoardThatBlocks: a program that blocks for 300 ms in one tick, whose samples come every 10 ms, is slow
// whatever else this computer does; one that doesn't is not, when what the computer adds is taken off. The limit is half
// of the pause, so that neither hangs on how busy the computer is.
func TestWallABoardThatBlocks(t *testing.T) {
	for _, c := range []struct {
		reason string
		block  string
		over   int
	}{{"never", "0", 0}, {"in the middle", "20", 1}} {
		l := program(t, "0", "1000000", c.block)
		host := board.WatchHostLatency()
		b := board.NewClient(l, seat, boardtest.Bay(), board.Options{Limit: 150 * time.Millisecond, HostLatency: host.Worst})
		var r harness.Reply
		for k := range 40 {
			r.Reset()
			require.NoError(t, b.Exchange(t.Context(), boardtest.Frame(k), &r))
		}
		a := b.Health().Answers
		assert.Equal(t, c.over, a.Over, "%s: %+v", c.reason, a)
		if c.over > 0 {
			assert.Greater(t, a.Slowest, 150*sim.Millisecond, c.reason)
		}
		require.NoError(t, b.Close())
		host.Close()
	}
}

func TestSocketKeepsTheLaws(t *testing.T) {
	l, err := net.Listen("unix", filepath.Join(t.TempDir(), "board"))
	require.NoError(t, err)
	defer l.Close()
	go func() {
		conn, err := l.Accept()
		if err == nil {
			serve(conn, conn, boardtest.None, 1<<30)
		}
	}()
	s, err := link.Open(t.Context(), "unix:"+l.Addr().String(), link.Options{})
	require.NoError(t, err)
	require.NoError(t, boardtest.Check(client(s)))
}

// patient is a time-out that no busy machine reaches: a board that talks or ends is noticed at once. The race detector
// alone lets a program take a second to exit.
const patient = time.Minute

func TestProcessExits(t *testing.T) {
	_, err := boardtest.Fly(t.Context(), process(t, boardtest.None, 500, board.Options{Timeout: patient}))
	require.ErrorIs(t, err, link.ErrGone)
	assert.ErrorContains(t, err, "the program has ended (exit status 7)")
}

// Over a real line too, every fatal flaw ends in its own error. A board that says nothing, or nothing right, is waited for
// until the time-out.
func TestProcessFlaws(t *testing.T) {
	for flaw, want := range boardtest.Fatal() {
		timeout := patient
		switch want {
		case board.ErrSilent:
			timeout = 500 * time.Millisecond
		case board.ErrGarbage, board.ErrNonce:
			timeout = 8 * time.Second
		}
		t.Run(strconv.Itoa(int(flaw)), func(t *testing.T) {
			t.Parallel()
			_, err := boardtest.Fly(t.Context(), process(t, flaw, 1<<30, board.Options{Timeout: timeout}))
			assert.ErrorIs(t, err, want)
		})
	}
}
