package board_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/sim"
)

// TestTimedSurvives: what a run survives, and what is then on record.
func TestTimedSurvives(t *testing.T) {
	once := func(is func(*talker, contract.Frame) bool, do func(*talker, contract.Frame)) func(*talker, contract.Frame) bool {
		done := false
		return func(g *talker, f contract.Frame) bool {
			if done || !is(g, f) {
				return false
			}
			done = true
			do(g, f)
			return true
		}
	}
	at := func(code contract.Code, us uint32) func(*talker, contract.Frame) bool {
		return func(g *talker, f contract.Frame) bool { return g.up && f.Code == code && g.clock() >= us }
	}
	tickTime := func(f contract.Frame) uint32 { var m contract.Tick; _ = m.Decode(f.Payload); return m.Time }
	for _, c := range []struct {
		reason string
		twist  func(*talker, contract.Frame) bool
		want   harness.Health
		check  func(t *testing.T, f *flight)
	}{
		{"a SYNC goes unanswered", once(at(contract.CodeSync, 700_000), func(*talker, contract.Frame) {}), harness.Health{Answers: harness.Answers{Missing: 1}}, func(t *testing.T, f *flight) {
			assert.InDelta(t, 0.7, f.b.Health().Answers.MissingAt.Seconds(), 0.11)
		}},
		{"a SYNC just before a power cut goes unanswered: it may still have been answered", once(at(contract.CodeSync, 1_300_000), func(*talker, contract.Frame) {}), harness.Health{}, nil},
		{"DONE denies an edge: it is believed, and the edge that was not told is missing", once(at(contract.CodeTick, 1_100_000), func(g *talker, f contract.Frame) {
			g.done(tickTime(f), 0)
			g.on = 0
		}), harness.Health{Lost: 1}, func(t *testing.T, f *flight) {
			require.Len(t, f.rec.Outputs, 2)
			assert.Equal(t, harness.ByArrival, f.rec.Outputs[1].Basis)
			assert.Equal(t, sim.Second, f.rec.Outputs[1].Within, "nobody knows when")
		}},
		{"a frame from the board is lost", once(at(contract.CodeIMU, 1_100_000), func(g *talker, f contract.Frame) {
			g.enc.Report(nil, &contract.Report{})
		}), harness.Health{Lost: 1}, nil},
		{"a frame from the board is spoilt", once(at(contract.CodeIMU, 1_100_000), func(g *talker, f contract.Frame) {
			n := len(g.out)
			g.out = g.enc.Report(g.out, &contract.Report{})
			g.out[n+5] ^= 4
		}), harness.Health{Lost: 1, Bad: 1}, nil},
		{"the board counts what it missed and could not read", once(at(contract.CodeIMU, 1_100_000), func(g *talker, f contract.Frame) {
			g.dec.Counts.Lost, g.dec.Counts.CRC = 3, 2
		}), harness.Health{BoardLost: 3, BoardBad: 2}, nil},
		{"it restarts by itself, with an output on", once(at(contract.CodeIMU, 1_100_000), func(g *talker, f contract.Frame) {
			g.reset()
			g.welcome(0)
		}), harness.Health{Unasked: 1, Boots: 1}, func(t *testing.T, f *flight) {
			require.Len(t, f.rec.Outputs, 2)
			assert.Equal(t, harness.ByArrival, f.rec.Outputs[1].Basis)
			assert.InDelta(t, 1.11, f.rec.Outputs[1].At.Seconds(), 0.02)
			assert.Len(t, f.rec.Clocks, 3)
		}},
		{"it restarts during its settings", once(at(contract.CodeSetting, 0), func(g *talker, f contract.Frame) {
			g.reset()
			g.welcome(0)
		}), harness.Health{Unasked: 1, Boots: 1}, nil},
		{"it fires at its second start, unarmed, before anybody asks", func() func(*talker, contract.Frame) bool {
			return once(func(g *talker, f contract.Frame) bool { return g.boots == 2 && f.Code == contract.CodeSetting }, func(g *talker, f contract.Frame) {
				g.hear(f)
				g.light(1, 1)
			})
		}(), harness.Health{Unarmed: 1}, nil},
		{"noise before WELCOME is no fault of the line", once(at(contract.CodeHello, 0), func(g *talker, f contract.Frame) {}), harness.Health{}, nil},
		{"it hears HELLO three times before it answers", func() func(*talker, contract.Frame) bool {
			n := 0
			return func(g *talker, f contract.Frame) bool {
				if f.Code == contract.CodeHello {
					n++
					g.out = append(g.out, "boot\x00noise\x00"...)
				}
				return f.Code == contract.CodeHello && n < 3
			}
		}(), harness.Health{}, nil},
	} {
		t.Run(c.reason, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := timed(newWire(newTalker(c.twist), 2*time.Millisecond), board.Options{Timeout: 600 * time.Millisecond})
				require.NoError(t, f.whole(t))
				h := f.health()
				c.want.Boots += 2
				c.want.RoundTrips = h.RoundTrips
				assert.Equal(t, c.want, h)
				require.NoError(t, alternate(f.rec.Outputs))
				if c.check != nil {
					c.check(t, f)
				}
			})
		})
	}
}

// TestCommandDuringHandshake: the command would be lost, so it is refused.
func TestCommandDuringHandshake(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := timed(newWire(newTalker(nil), 300*time.Millisecond), board.Options{})
		assert.ErrorContains(t, f.whole(t), "an operator's command is due, and the handshake is not over")
	})
}

// TestSupplyOffWhileItBoots: a board whose capabilities are not known yet is sent RESTART too.
func TestSupplyOffWhileItBoots(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newTalker(nil)
		f := timed(newWire(g, 20*time.Millisecond), board.Options{})
		require.NoError(t, f.fly(t.Context(), darkFrame-2, darkFrame+8))
		time.Sleep(time.Second)
		assert.EqualValues(t, 2, g.boots)
		require.NoError(t, f.fly(t.Context(), lastFrame+60, lastFrame+120))
		assert.Equal(t, 1, f.b.Health().Boots)
		require.NoError(t, f.b.Close())
	})
}

// TestUneventfulSeat: a board with nothing due for seconds is still asked, and its end is noticed.
func TestUneventfulSeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newTalker(nil)
		f := timed(newWire(g, time.Millisecond), board.Options{})
		require.NoError(t, f.fly(t.Context(), 0, 20))
		var r harness.Reply
		for k := 21; k < 1000; k++ {
			time.Sleep(10 * time.Millisecond)
			require.NoError(t, f.b.Exchange(t.Context(), &sim.Frame{Now: f.now(), Powered: true}, &r))
		}
		assert.Greater(t, len(r.Readings), 90)
		require.NoError(t, f.b.Close())
	})
}

// TestTimedBreakAtEveryByte: the cable cut after each byte, or a bit flipped in it, both ways counted
// together. The run ends with an error, or the damage is counted, or the edges are right.
func TestTimedBreakAtEveryByte(t *testing.T) {
	var right []harness.Edge
	total := 0
	synctest.Test(t, func(t *testing.T) {
		m := &meter{Link: memory(boardtest.None)}
		f := timed(m, board.Options{})
		require.NoError(t, f.whole(t))
		right, total = f.rec.Outputs, m.bytes
	})
	require.Greater(t, total, 9000)
	require.Len(t, right, 2)
	for _, how := range []struct {
		name  string
		spoil func(link.Link, int) link.Link
	}{{"cut", linktest.CutAfter}, {"flip", linktest.Flip}} {
		for n := 0; n < total; n += everyByte() * (1 + n/300) { // each of the handshake, then fewer
			synctest.Test(t, func(t *testing.T) {
				f := timed(how.spoil(memory(boardtest.None), n), board.Options{Timeout: 500 * time.Millisecond})
				err := f.whole(t)
				h := f.health()
				if err == nil && h.Faultless() && h.Unasked == 0 {
					require.Len(t, f.rec.Outputs, len(right), "%s byte %d", how.name, n)
					for i, e := range f.rec.Outputs { // a handshake said again moves the guest's ticks
						require.InDelta(t, right[i].At.Seconds(), e.At.Seconds(), 0.11, "%s byte %d", how.name, n)
					}
				}
				if how.name == "cut" {
					require.True(t, errors.Is(err, link.ErrGone) || n > total-10, "cut byte %d: %v", n, err)
				}
				require.NoError(t, alternate(f.rec.Outputs), "%s byte %d", how.name, n)
			})
		}
	}
}

// stuck is a board that stops reading. When its line is full, a write fails after a time, as link.Link demands.
type stuck struct {
	*faultyLine
	room int
}

func (s *stuck) Write(b []byte) (int, error) {
	if s.room -= len(b); s.room < 0 {
		time.Sleep(500 * time.Millisecond)
		return 0, fmt.Errorf("test: %w: it takes nothing", link.ErrGone)
	}
	return s.faultyLine.Write(b)
}

func TestBoardStopsReading(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := timed(&stuck{newWire(newTalker(nil), time.Millisecond), 4096}, board.Options{})
		err := f.fly(t.Context(), 0, lastFrame)
		require.ErrorIs(t, err, link.ErrGone)
		start := time.Now()
		require.NoError(t, f.b.Close())
		assert.LessOrEqual(t, time.Since(start), 600*time.Millisecond, "BYE is tried once")
	})
}

// TestTimedClose: closing while its reader waits, before any exchange, and after the cable went.
func TestTimedClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := timed(newWire(newTalker(nil), time.Millisecond), board.Options{})
		require.NoError(t, f.b.Close())
		assert.ErrorIs(t, f.b.Exchange(t.Context(), boardtest.Frame(0), new(harness.Reply)), board.ErrClosed)

		w := newWire(newTalker(nil), time.Millisecond)
		f = timed(w, board.Options{})
		require.NoError(t, f.fly(t.Context(), 0, 30))
		w.Close()
		synctest.Wait()
		err := f.fly(t.Context(), 31, 40)
		assert.ErrorIs(t, err, os.ErrClosed)
		require.NoError(t, f.b.Close())

		f = timed(newWire(newTalker(nil), time.Millisecond), board.Options{})
		ctx, stop := context.WithCancel(t.Context())
		stop()
		assert.ErrorIs(t, f.fly(ctx, 0, 3), context.Canceled)
		require.NoError(t, f.b.Close())
	})
}

// TestTimedExchangeAllocatesNothing: no memory is asked for while a clock counts.
func TestTimedExchangeAllocatesNothing(t *testing.T) {
	now := sim.Time(0)
	b := board.NewRealTime(memory(boardtest.None), seat, boardtest.Bay(), board.Options{}, func() sim.Time { return now })
	f, r, ctx := boardtest.Frame(4), new(harness.Reply), t.Context()
	exchange := func() {
		now += boardtest.Period
		f.Now = now
		r.Reset()
		if err := b.Exchange(ctx, f, r); err != nil {
			t.Fatal(err)
		}
	}
	for range 200 {
		exchange()
	}
	assert.Zero(t, testing.AllocsPerRun(300, exchange))
	assert.Greater(t, b.Health().RoundTrips, 40)
}
