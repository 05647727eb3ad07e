package board_test

import (
	"context"
	"os"
	"testing"
	"testing/synctest"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestContextEndsTheWait(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	assert.ErrorIs(t, client(memory(boardtest.None)).Exchange(ctx, boardtest.Frame(0), new(harness.Reply)), context.Canceled)
}

// Bytes spoiled or cut at each place of a short session: the edges are right, or the run ends with
// an error, or the damage is counted. Nothing hangs: a memory link knows when nothing more comes.
func TestBreakAtEveryByte(t *testing.T) {
	whole := &meter{Link: memory(boardtest.None)}
	right, err := boardtest.Fly(t.Context(), client(whole))
	require.NoError(t, err)
	require.Greater(t, whole.bytes, 3000)
	for _, how := range []struct {
		name  string
		spoil func(link.Link, int) link.Link
	}{{"cut", linktest.CutAfter}, {"flip", linktest.Flip}} {
		for n := 0; n < whole.bytes; n += everyByte() {
			c := client(how.spoil(memory(boardtest.None), n))
			all, err := boardtest.Fly(t.Context(), c)
			if h := c.Health(); err == nil && h.Faultless() {
				require.Equal(t, right.Outputs, all.Outputs, "%s byte %d", how.name, n)
			}
			require.True(t, err != nil || how.name != "cut", "cut byte %d went unnoticed", n)
			require.NoError(t, boardtest.Edges(all.Outputs), "%s byte %d", how.name, n)
			require.NoError(t, c.Close())
		}
	}
}

// everyByte is the step from byte to byte; under the race detector few are enough.
func everyByte() int {
	if testing.Short() {
		return 7
	}
	return 1
}

type meter struct {
	link.Link
	bytes int
}

func (m *meter) Write(b []byte) (int, error) { m.bytes += len(b); return m.Link.Write(b) }
func (m *meter) Instant() bool               { return link.Instant(m.Link) }
func (m *meter) Read(b []byte) (int, error) {
	n, err := m.Link.Read(b)
	m.bytes += n
	return n, err
}

// slow is a link that takes time, on the fake clock of a synctest bubble.
type slow struct {
	link.Link
	delay    time.Duration
	deadline time.Time
	deaf     int // writes that get lost
}

func (s *slow) Instant() bool                     { return false }
func (s *slow) SetReadDeadline(t time.Time) error { s.deadline = t; return nil }
func (s *slow) Write(b []byte) (int, error) {
	if s.deaf > 0 {
		s.deaf--
		return len(b), nil
	}
	return s.Link.Write(b)
}

func (s *slow) Read(b []byte) (int, error) {
	if wait := time.Until(s.deadline); wait <= s.delay {
		time.Sleep(wait)
		return 0, os.ErrDeadlineExceeded
	}
	n, err := s.Link.Read(b)
	if err != nil {
		time.Sleep(time.Until(s.deadline))
		return 0, err
	}
	time.Sleep(s.delay)
	return n, nil
}

func TestWaiting(t *testing.T) {
	for _, c := range []struct {
		reason string
		l      func() link.Link
		want   error
		most   time.Duration
	}{
		{"a slow board is waited for", func() link.Link { return &slow{Link: memory(boardtest.None), delay: 50 * time.Millisecond} }, nil, 3 * time.Second},
		{"a board that still boots gets HELLO again", func() link.Link { return &slow{Link: memory(boardtest.None), deaf: 4} }, nil, 1100 * time.Millisecond},
		{"a mute board", func() link.Link { return &slow{Link: memory(boardtest.Mute)} }, board.ErrSilent, 2 * time.Second},
		{"a board that hangs later", func() link.Link { return &slow{Link: memory(boardtest.Hangs)} }, board.ErrSilent, 2 * time.Second},
		{"a flood", func() link.Link { return &slow{Link: linktest.Flood(memory(boardtest.None), 'U')} }, board.ErrFlood, 2 * time.Second},
		{"a trickle of nonsense", func() link.Link {
			return &slow{Link: linktest.OneByte(linktest.Flood(memory(boardtest.None), 0)), delay: 10 * time.Millisecond}
		}, board.ErrGarbage, 2100 * time.Millisecond},
	} {
		synctest.Test(t, func(t *testing.T) {
			start := time.Now()
			_, err := boardtest.Fly(t.Context(), client(c.l()))
			assert.ErrorIs(t, err, c.want, c.reason)
			assert.LessOrEqual(t, time.Since(start), c.most, c.reason)
		})
	}
}

func TestCancelWhileWaiting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
		defer cancel()
		start := time.Now()
		_, err := boardtest.Fly(ctx, client(&slow{Link: memory(boardtest.Mute)}))
		assert.ErrorIs(t, err, context.DeadlineExceeded)
		assert.LessOrEqual(t, time.Since(start), 500*time.Millisecond)
	})
}

func TestExchangeAllocatesNothing(t *testing.T) {
	c, f, r := client(memory(boardtest.None)), boardtest.Frame(2), new(harness.Reply)
	exchange := func() {
		f.Now += boardtest.Period
		r.Reset()
		if err := c.Exchange(t.Context(), f, r); err != nil {
			t.Fatal(err)
		}
	}
	for range 100 { // past the pulse
		exchange()
	}
	ctx := t.Context()
	assert.Zero(t, testing.AllocsPerRun(200, func() {
		f.Now += boardtest.Period
		r.Reset()
		_ = c.Exchange(ctx, f, r)
	}))
	require.Positive(t, c.Health().RoundTrips)
}

func BenchmarkExchange(b *testing.B) {
	c, f, r := client(memory(boardtest.None)), boardtest.Frame(2), new(harness.Reply)
	f.Commands = 0
	b.ReportAllocs()
	for b.Loop() {
		f.Now += sim.Microsecond
		r.Reset()
		if err := c.Exchange(context.Background(), f, r); err != nil {
			b.Fatal(err)
		}
	}
}
