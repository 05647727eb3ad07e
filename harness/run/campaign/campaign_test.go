package campaign

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/run/loop"
	"drystage/sim"
)

// oneTick is a source of a single tick.
type oneTick struct{ tick sim.Tick }

func (s *oneTick) Step([]sim.Output) (*sim.Tick, bool) { return &s.tick, false }

// flights makes n flights; the i-th waits in Open for wait(i).
func flights(n int, wait func(i int) time.Duration) []Flight {
	out := make([]Flight, n)
	for i := range out {
		out[i] = Flight{
			Plan:   harness.Plan{Name: fmt.Sprint(i)},
			Pacer:  loop.Lockstep{},
			Source: func(*sim.Setup) sim.Source { return &oneTick{} },
			Open: func() ([]board.Board, error) {
				time.Sleep(wait(i)) // of the bubble's clock: no time passes
				return nil, nil
			},
		}
	}
	return out
}

func TestFlyKeepsTheOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slowFirst := func(i int) time.Duration { return time.Duration(10-i) * time.Second }
		var got []string
		err := Fly(t.Context(), flights(6, slowFirst), 4, func(i int, rec *harness.Record) error {
			require.True(t, rec.Complete())
			got = append(got, rec.Plan.Name)
			return nil
		})
		require.NoError(t, err)
		require.Equal(t, []string{"0", "1", "2", "3", "4", "5"}, got)
	})
}

// A plan that is drawn when it is its turn is the one that is flown and recorded, and never before its turn.
func TestFlyDrawsPlansInTurn(t *testing.T) {
	fs := flights(40, func(int) time.Duration { return 0 })
	var begun, done atomic.Int32
	for i := range fs {
		fs[i].Draw = func() harness.Plan {
			require.LessOrEqual(t, begun.Add(1)-done.Load(), int32(4), "3 jobs, and one that is being handed over")
			return harness.Plan{Name: fmt.Sprint("drawn ", i), Setup: sim.Setup{Seed: uint64(i)}}
		}
		fs[i].Source = func(s *sim.Setup) sim.Source {
			require.Equal(t, uint64(i), s.Seed)
			return &oneTick{}
		}
	}
	require.NoError(t, Fly(t.Context(), fs, 3, func(i int, rec *harness.Record) error {
		require.Equal(t, fmt.Sprint("drawn ", i), rec.Plan.Name)
		done.Add(1)
		return nil
	}))
	require.EqualValues(t, 40, done.Load())
}

// In real time nothing else is done while a flight is on, however long a record takes to be dealt with.
func TestRealTimeFlightsAreAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		busy := false
		fs := flights(4, func(int) time.Duration {
			require.False(t, busy)
			return time.Second
		})
		for i := range fs {
			fs[i].Pacer = loop.NewSoftTime(loop.DefaultLimit)
		}
		n := 0
		require.NoError(t, Fly(t.Context(), fs, 1, func(i int, rec *harness.Record) error {
			busy = true
			time.Sleep(time.Minute)
			busy = false
			n++
			return nil
		}))
		require.Equal(t, 4, n)
	})
}

func TestFlyStops(t *testing.T) {
	full := errors.New("disk full")
	for _, c := range []struct {
		reason string
		done   func(stop func()) error
		want   error
	}{
		{"an error of done ends the campaign", func(func()) error { return full }, full},
		{"an interrupt ends the campaign", func(stop func()) error { stop(); return nil }, context.Canceled},
	} {
		t.Run(c.reason, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, stop := context.WithCancel(t.Context())
				defer stop()
				calls := 0
				err := Fly(ctx, flights(50, func(int) time.Duration { return time.Second }), 3, func(int, *harness.Record) error {
					calls++
					return c.done(stop)
				})
				require.ErrorIs(t, err, c.want)
				require.Less(t, calls, 50)
			})
		})
	}
}

func TestFlyRecordsBoardsThatDoNotOpen(t *testing.T) {
	f := flights(1, func(int) time.Duration { return 0 })
	f[0].Plan.Setup.Bays = make([]sim.Bay, 2)
	f[0].Open = func() ([]board.Board, error) { return nil, errors.New("no such port") }
	require.NoError(t, Fly(t.Context(), f, 1, func(_ int, rec *harness.Record) error {
		require.False(t, rec.Complete())
		require.Equal(t, "no such port", rec.Cause)
		require.Len(t, rec.Health, 2)
		return nil
	}))
}
