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
		err := inOrder(t.Context(), 6, 4, false, new(Spares), func(_ context.Context, i int, rec *harness.Record) {
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

// A worker whose flight ends before an earlier one goes on, so that no processor waits for the order.
func TestNobodyWaitsForAnEarlierFlight(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // which ends a test in which all wait for each other
		third := make(chan struct{})
		n := 0
		require.NoError(t, inOrder(t.Context(), 5, 2, false, new(Spares), func(_ context.Context, i int, rec *harness.Record) {
			switch i {
			case 0:
				<-third
			case 2:
				close(third)
			}
			flown(rec, fmt.Sprint(i))
		}, func(i int, rec *harness.Record) error {
			require.Equal(t, fmt.Sprint(n), rec.Plan.Name)
			n++
			return nil
		}))
		require.Equal(t, 5, n)
	})
}

// However many flights there are, only so many are under way or wait for their turn as there are jobs, and two more; and as
// many records are in use.
func TestManyTakeNoMoreThanAFew(t *testing.T) {
	var begun, done atomic.Int32
	var mu sync.Mutex
	records := map[*harness.Record]bool{}
	require.NoError(t, inOrder(t.Context(), 1000, 3, false, new(Spares), func(_ context.Context, i int, rec *harness.Record) {
		assert.LessOrEqual(t, begun.Add(1)-done.Load(), int32(5), "3 jobs, and two that wait for an earlier one")
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
	require.LessOrEqual(t, len(records), 5)
}

// In real time nothing else is done while a flight is on, however long a record takes to be dealt with.
func TestRealTimeFlightsAreAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		busy := false
		n := 0
		require.NoError(t, inOrder(t.Context(), 4, 1, true, new(Spares), func(_ context.Context, i int, rec *harness.Record) {
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
				err := inOrder(ctx, 50, 3, false, new(Spares), func(_ context.Context, _ int, rec *harness.Record) {
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
	err := inOrder(ctx, 3, 1, false, new(Spares), func(ctx context.Context, i int, rec *harness.Record) {
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

// Who flies a few flights again and again on one bench, as a queue's worker does, uses the same records.
func TestRecordsServeTheNextFlights(t *testing.T) {
	records := map[*harness.Record]bool{}
	spare := new(Spares)
	for range 20 {
		require.NoError(t, inOrder(t.Context(), 1, 1, false, spare, func(_ context.Context, _ int, rec *harness.Record) {
			records[rec] = true
			flown(rec, "")
		}, func(int, *harness.Record) error { return nil }))
	}
	require.Len(t, records, 1)
}
