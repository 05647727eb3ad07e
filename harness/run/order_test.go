package run

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
)

// flown fills a record that is complete, with a name.
func flown(rec *harness.Record, name string) {
	rec.Reset()
	rec.Plan = harness.Plan{Name: name}
	rec.Times = append(rec.Times, 0)
}

func TestOrderIsKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var got []string
		err := inOrder(t.Context(), 6, 4, false, func(_ context.Context, i int, rec *harness.Record) {
			time.Sleep(time.Duration(10-i) * time.Second) // of the bubble's clock: no time passes
			flown(rec, fmt.Sprint(i))
		}, func(i int, rec *harness.Record) error {
			require.True(t, rec.Complete())
			require.Equal(t, fmt.Sprint(i), rec.Plan.Name)
			got = append(got, rec.Plan.Name)
			return nil
		})
		require.NoError(t, err)
		require.Equal(t, []string{"0", "1", "2", "3", "4", "5"}, got)
	})
}

// However many flights there are, only so many are under way as there are jobs, and as many records are in use.
func TestManyTakeNoMoreThanAFew(t *testing.T) {
	var begun, done atomic.Int32
	var mu sync.Mutex
	records := map[*harness.Record]bool{}
	require.NoError(t, inOrder(t.Context(), 1000, 3, false, func(_ context.Context, i int, rec *harness.Record) {
		assert.LessOrEqual(t, begun.Add(1)-done.Load(), int32(4), "3 jobs, and one that is being handed over")
		mu.Lock()
		records[rec] = true
		mu.Unlock()
		flown(rec, fmt.Sprint(i))
	}, func(i int, rec *harness.Record) error {
		require.Equal(t, fmt.Sprint(i), rec.Plan.Name)
		done.Add(1)
		return nil
	}))
	require.EqualValues(t, 1000, done.Load())
	require.LessOrEqual(t, len(records), 4)
}

// In real time nothing else is done while a flight is on, however long a record takes to be dealt with.
func TestRealTimeFlightsAreAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		busy := false
		n := 0
		require.NoError(t, inOrder(t.Context(), 4, 1, true, func(_ context.Context, i int, rec *harness.Record) {
			require.False(t, busy)
			time.Sleep(time.Second)
			flown(rec, "")
		}, func(i int, rec *harness.Record) error {
			busy = true
			time.Sleep(time.Minute)
			busy = false
			n++
			return nil
		}))
		require.Equal(t, 4, n)
	})
}

func TestOrderStops(t *testing.T) {
	full := errors.New("disk full")
	for _, c := range []struct {
		reason string
		done   func(stop func()) error
		want   error
	}{
		{"an error of done ends it", func(func()) error { return full }, full},
		{"an interrupt ends it", func(stop func()) error { stop(); return nil }, context.Canceled},
	} {
		t.Run(c.reason, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, stop := context.WithCancel(t.Context())
				defer stop()
				calls := 0
				err := inOrder(ctx, 50, 3, false, func(_ context.Context, _ int, rec *harness.Record) {
					time.Sleep(time.Second)
					flown(rec, "")
				}, func(int, *harness.Record) error {
					calls++
					return c.done(stop)
				})
				require.ErrorIs(t, err, c.want)
				require.Less(t, calls, 50)
			})
		})
	}
}

// A flight that was cut off tells nothing: it is not handed over.
func TestCutOffFlightsAreNotHandedOver(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	calls := 0
	err := inOrder(ctx, 3, 1, false, func(ctx context.Context, i int, rec *harness.Record) {
		flown(rec, "")
		if i == 1 {
			stop()
			rec.Cause = "interrupted"
		}
	}, func(i int, rec *harness.Record) error {
		require.Zero(t, i)
		calls++
		return nil
	})
	require.ErrorIs(t, err, context.Canceled)
	require.LessOrEqual(t, calls, 1)
}
