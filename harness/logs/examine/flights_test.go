package examine

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
)

// TestSeveralFlights: of a log that holds two flights one is examined at a time, and the other is told of.
func TestSeveralFlights(t *testing.T) {
	for seed := range uint64(6) {
		r := logtest.Draw(seed)
		r.Accel, r.Gyro, r.Baro, r.GNSS, r.Battery, r.Own, r.Outputs, r.OneAxis = true, false, true, false, false, false, false, false
		r.Rate, r.BaroEvery, r.Pad, r.Jitter, r.Stages, r.Recovery, r.Clip, r.Vibration, r.After = 50, 1, 12, 0, 1, logtest.Dual, 0, 1, 8
		switch seed % 3 {
		case 1:
			r.Accel = false
		case 2:
			r.Baro = false
		}
		l := logtest.Fly(r)
		n := len(l.T)
		second := l.T[n-1] + 1/r.Rate
		for i := range n {
			l.T = append(l.T, l.T[i]+second)
		}
		for c := range l.Columns {
			l.Columns[c].X = append(l.Columns[c].X, l.Columns[c].X...)
		}
		read := foreignLog(t, l)
		for flight := 1; flight <= 2; flight++ {
			got, err := Examine(read, Options{Flight: flight})
			require.NoError(t, err, "seed %d", seed)
			assert.Contains(t, fmt.Sprint(got.Untold), "the log holds 2, from 0.0 s, from", "seed %d", seed)
			for _, event := range []string{Liftoff, Apogee, Landing} {
				at, _ := l.Truth.When(event, 0)
				m, ok := got.first(event)
				if assert.True(t, ok, "seed %d: %s of flight %d", seed, event, flight) {
					assert.InDelta(t, at+float64(flight-1)*second, m.At, max(m.Within, 0.1), "seed %d: %s of flight %d", seed, event, flight)
				}
			}
			for _, m := range got.Moments {
				assert.True(t, m.Number < 3, "seed %d: %s", seed, m.Name())
			}
		}
		_, err := Examine(read, Options{Flight: 3})
		assert.ErrorContains(t, err, "the log holds 2")
	}
}
