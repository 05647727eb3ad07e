package examine

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
)

// cutBefore leaves the rows before an instant out of a log.
func cutBefore(l *logtest.Log, at float64) {
	i := 0
	for i < len(l.T) && l.T[i] < at {
		i++
	}
	l.T = l.T[i:]
	for c := range l.Columns {
		if x := l.Columns[c].X; len(x) > 0 {
			l.Columns[c].X = x[i:]
		}
	}
}

// TestBeginsInFlight: of a log that begins after liftoff everything that is there is found, and nothing before it is made up.
func TestBeginsInFlight(t *testing.T) {
	good, all := 0, 0
	for seed := range uint64(12) {
		r := logtest.Draw(seed)
		r.Accel, r.Baro, r.Own, r.Outputs, r.Stages, r.OneAxis, r.Rate, r.Vibration, r.Lag = true, true, false, false, 1+int(seed)%2, false, min(r.Rate, 100), min(r.Vibration, 8), 0.02
		r.BaroEvery = max(1, int(r.Rate/50))
		l := logtest.Fly(r)
		lift, _ := l.Truth.When(Liftoff, 0)
		off, _ := l.Truth.When(Burnout, 1)
		from := []float64{lift + 0.1, (lift + off) / 2, off + 0.5, lift + 0.3}[seed%4]
		cutBefore(l, from)
		first := l.T[0]
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		_, ok := got.first(Liftoff)
		assert.False(t, ok, "seed %d: a liftoff that is not in the log", seed)
		assert.Contains(t, fmt.Sprint(got.Untold), "liftoff", "seed %d", seed)
		var page strings.Builder
		require.NoError(t, Page(&page, got))
		assert.Contains(t, page.String(), "not told: liftoff", "seed %d", seed)
		for _, p := range l.Truth.Phases {
			if p.At < from {
				continue
			}
			all++
			hit := false
			for _, m := range got.Moments {
				hit = hit || m.Event == p.Event && (m.Number == p.Number || p.Number == 0) && math.Abs(m.At-(p.At-first)) <= max(m.Within, 0.1)+p.Soft
			}
			if hit {
				good++
			} else {
				t.Logf("seed %d: %s %d at %.2f: %v", seed, p.Event, p.Number, p.At-first, got.Moments)
			}
		}
	}
	assert.GreaterOrEqual(t, float64(good), 0.95*float64(all), "%d of %d", good, all)
}

// TestShortPad: where the pad before liftoff is too short to learn a part's rest, liftoff is told all the same.
func TestShortPad(t *testing.T) {
	found := 0
	for seed := range uint64(6) {
		r := logtest.Draw(seed)
		r.Accel, r.Baro, r.Own, r.Outputs, r.OneAxis, r.Rate, r.Vibration = true, true, false, false, false, 100, min(r.Vibration, 3)
		r.BaroEvery = 2
		l := logtest.Fly(r)
		lift, _ := l.Truth.When(Liftoff, 0)
		cutBefore(l, lift-0.3)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		if m, ok := got.first(Liftoff); ok && math.Abs(m.At-(lift-l.T[0])) < 0.1 {
			found++
		}
	}
	assert.GreaterOrEqual(t, found, 5)
}

// TestBeginsAfterTheApogee: of a log that begins on the way down no apogee is told; where it hangs under a canopy then, the next one is
// the second.
func TestBeginsAfterTheApogee(t *testing.T) {
	good, all := 0, 0
	for seed := range uint64(12) {
		r := logtest.Draw(300 + seed)
		r.Accel, r.Baro, r.GNSS, r.Own, r.Outputs, r.OneAxis, r.Rate, r.Lag, r.Charge = seed%3 < 2, true, seed%2 == 0, false, false, false, min(r.Rate, 100), 0.02, 0
		r.BaroEvery, r.GNSSEvery, r.Recovery = max(1, int(r.Rate/50)), max(1, int(r.Rate/5)), logtest.Dual
		l := logtest.Fly(r)
		first, _ := l.Truth.When(Deployment, 1)
		cutBefore(l, first+3)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		_, ok := got.first(Apogee)
		assert.False(t, ok, "seed %d: an apogee that is not in the log: %v", seed, got.Moments)
		assert.Contains(t, fmt.Sprint(got.Untold), "apogee", "seed %d", seed)
		var page strings.Builder
		require.NoError(t, Page(&page, got))
		assert.Contains(t, page.String(), "not told: apogee", "seed %d", seed)
		for _, p := range l.Truth.Phases {
			if p.At < first+3 {
				continue
			}
			all++
			hit := false
			for _, m := range got.Moments {
				hit = hit || m.Event == p.Event && m.Number == p.Number && math.Abs(m.At-(p.At-l.T[0])) <= max(m.Within, 0.1)+p.Soft
			}
			if hit {
				good++
			} else {
				t.Logf("seed %d: %s %d at %.2f: %v", seed, p.Event, p.Number, p.At-l.T[0], got.Moments)
			}
		}
	}
	assert.GreaterOrEqual(t, float64(good), 0.9*float64(all), "%d of %d", good, all)
}
