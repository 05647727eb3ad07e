//go:build linux || darwin || freebsd

package board_test

import (
	"context"
	"fmt"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
	"drystage/sim"
)

// asProgram flies a guest in another process, on the real clock, which begins when the guest is up.
func asProgram(t testing.TB, flaw boardtest.Flaw, most int, opt board.Options) *flight {
	f := timed(program(t, strconv.Itoa(int(flaw)), strconv.Itoa(most)), opt)
	t.Cleanup(func() { f.b.Close() })
	return f
}

func TestWallTimedAsProgram(t *testing.T) {
	t.Parallel()
	f := asProgram(t, boardtest.None, 1<<30, board.Options{})
	require.NoError(t, f.whole(t))
	h := f.health()
	assert.Equal(t, harness.Health{Name: "boardtest", Boots: 2, RoundTrips: h.RoundTrips, Reports: h.RoundTrips}, h)
	assert.Greater(t, h.RoundTrips, 10)
	require.Len(t, f.rec.Outputs, 2)
	require.Len(t, f.rec.Clocks, 2)
}

// TestWallTimedFlawsAsProgram: over a real line too, each fatal flaw ends in its own error, and in time.
func TestWallTimedFlawsAsProgram(t *testing.T) {
	for flaw, want := range boardtest.Fatal() {
		if flaw == boardtest.NoLockstep || flaw == boardtest.ForeseesTime {
			continue
		}
		t.Run(fmt.Sprint(int(flaw)), func(t *testing.T) {
			t.Parallel()
			f := asProgram(t, flaw, 1<<30, board.Options{Timeout: time.Second})
			assert.ErrorIs(t, f.whole(t), want)
			assert.NoError(t, alternate(f.rec.Outputs))
		})
	}
}

// TestWallTimedProcessExits: the program ends at some byte of its output.
func TestWallTimedProcessExits(t *testing.T) {
	for _, most := range []int{1, 40, 80, 300, 900} {
		t.Run(fmt.Sprint(most, " bytes"), func(t *testing.T) {
			t.Parallel()
			f := asProgram(t, boardtest.None, most, board.Options{})
			err := f.whole(t)
			assert.ErrorIs(t, err, link.ErrGone)
			assert.ErrorContains(t, err, "the program has ended (exit status 7)")
		})
	}
}

// BenchmarkTimedAsProgram is an exchange with another process, 500 times a second: its time is that of
// the whole period, "exchange-us/op" that of Exchange alone; the memory is the whole process's, its
// reader included.
func BenchmarkTimedAsProgram(b *testing.B) {
	f := asProgram(b, boardtest.None, 1<<40, board.Options{})
	require.NoError(b, f.fly(context.Background(), 0, 40))
	in, r := boardtest.Frame(4), harness.Reply{Readings: make([]harness.ClockReading, 0, 64), Reports: make([]harness.Report, 0, 64)}
	var spent time.Duration
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		time.Sleep(2 * time.Millisecond)
		in.Now = f.now() / sim.Microsecond * sim.Microsecond
		r.Reset()
		began := time.Now()
		if err := f.b.Exchange(context.Background(), in, &r); err != nil {
			b.Fatal(err)
		}
		spent += time.Since(began)
	}
	b.ReportMetric(spent.Seconds()*1e6/float64(b.N), "exchange-us/op")
}
