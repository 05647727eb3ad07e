package examine

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
)

// TestAccelerometerAlone: without pressure and receiver the apogee lies where it is said to, for clipped boosts too, and the main
// is found by the speed that it takes.
func TestAccelerometerAlone(t *testing.T) {
	sure, mains := 0, 0
	for seed := range uint64(16) {
		r := logtest.Draw(seed)
		r.Accel, r.Gyro, r.Baro, r.GNSS, r.Battery, r.Outputs, r.OneAxis = true, false, false, false, false, false, false
		r.Recovery, r.Clip, r.Vibration = logtest.Dual, []float64{0, 8 * 9.80665}[seed%2], min(r.Vibration, 5)
		r.Rate = min(r.Rate, 200)
		l := logtest.Fly(r)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		at, _ := l.Truth.When(Apogee, 0)
		if m, ok := got.first(Apogee); ok && math.Abs(m.At-at) <= m.Within {
			sure++
			assert.True(t, m.Within < 2 || r.Clip > 0, "seed %d", seed)
		}
		main, _ := l.Truth.When(Deployment, 2)
		for _, m := range got.Moments {
			if m.Event == Deployment && math.Abs(m.At-main) <= max(m.Within, 0.1) {
				mains++
			}
		}
	}
	assert.GreaterOrEqual(t, sure, 15)
	assert.GreaterOrEqual(t, mains, 15)
}

// TestReceiverTellsTheMain: where no pressure tells the fall, a receiver's height does.
func TestReceiverTellsTheMain(t *testing.T) {
	found := 0
	for seed := range uint64(8) {
		r := logtest.Draw(seed)
		r.Accel, r.Gyro, r.Baro, r.GNSS, r.Battery, r.Outputs, r.OneAxis = true, true, false, true, false, false, false
		r.Recovery, r.Rate, r.GNSSEvery = logtest.Dual, 100, []int{20, 100}[seed%2]
		l := logtest.Fly(r)
		for i := range l.Columns { // no speed
			if l.Columns[i].Is == "gnss up" {
				l.Columns[i].X = make([]float64, len(l.T))
				for k := range l.T {
					l.Columns[i].X[k] = math.NaN()
				}
			}
		}
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		main, _ := l.Truth.When(Deployment, 2)
		for _, m := range got.Moments {
			if m.Event == Deployment && m.Number == 2 && math.Abs(m.At-main) <= max(m.Within, 0.1) {
				found++
			}
		}
	}
	assert.GreaterOrEqual(t, found, 7)
}

// TestOnceASecond: heights of once a second, by a receiver or a barometer alone, tell all phases within what they say, and no
// more openly than so few samples make them.
func TestOnceASecond(t *testing.T) {
	for _, c := range []struct {
		name string
		gnss bool
		wide float64 // s, expanded, of the apogee at most
	}{{"a receiver", true, 0.7}, {"a barometer", false, 0.3}} {
		t.Run(c.name, func(t *testing.T) {
			good, all := 0, 0
			for seed := range uint64(10) {
				r := logtest.Draw(900 + seed)
				r.Accel, r.Gyro, r.Baro, r.GNSS, r.Battery, r.Own, r.Outputs = false, false, !c.gnss, c.gnss, false, false, false
				r.GNSSEvery, r.BaroEvery, r.Rate, r.Jitter, r.Pad, r.Charge = 1, 1, 1, 0, 20, 0
				l := logtest.Fly(r)
				got, err := Examine(foreignLog(t, l), Options{})
				require.NoError(t, err, "seed %d", seed)
				for _, p := range l.Truth.Phases {
					if p.Event == Burnout || p.Event == Ignition || p.Event == Separation {
						continue
					}
					i := slices.IndexFunc(got.Moments, func(m Moment) bool { return m.Event == p.Event && m.Number == p.Number })
					if all++; i >= 0 && math.Abs(got.Moments[i].At-p.At) <= got.Moments[i].Within {
						good++
					} else {
						t.Logf("seed %d: %s %d at %.3f s: %v", seed, p.Event, p.Number, p.At, got.Moments)
					}
					if p.Event == Apogee && i >= 0 {
						assert.Less(t, got.Moments[i].Within, c.wide, "seed %d", seed)
					}
				}
			}
			assert.GreaterOrEqual(t, float64(good), 0.93*float64(all), "%d of %d", good, all)
		})
	}
}

// TestSlowHeightTellsTheFirstCanopy: the shock after the apogee is a canopy's where a height of once a second says that the fall
// is braked from there on.
func TestSlowHeightTellsTheFirstCanopy(t *testing.T) {
	good := 0
	for seed := range uint64(8) {
		r := logtest.Draw(900 + seed)
		r.Accel, r.Gyro, r.Baro, r.GNSS, r.Battery, r.Own, r.Outputs, r.OneAxis = true, false, true, false, false, false, false, false
		r.BaroEvery, r.Rate, r.Jitter, r.Charge = 50, 50, 0, 0
		l := logtest.Fly(r)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		at, _ := l.Truth.When(Deployment, 1)
		if i := slices.IndexFunc(got.Moments, func(m Moment) bool { return m.Event == Deployment }); i >= 0 && math.Abs(got.Moments[i].At-at) <= max(got.Moments[i].Within, 0.1) {
			good++
		} else {
			t.Logf("seed %d: at %.3f s: %v", seed, at, got.Moments)
		}
	}
	assert.GreaterOrEqual(t, good, 7)
}

// TestDriftMovesNoApogee: a barometer that drifts upwards faster than a canopy sinks, from just after the apogee on, moves it by no more
// than it says: under the canopy the accelerometer feels one g, and the rise before tells where it ended.
func TestDriftMovesNoApogee(t *testing.T) {
	good := 0
	for seed := range uint64(8) {
		r := logtest.Draw(seed)
		r.Accel, r.Gyro, r.Baro, r.GNSS, r.Battery, r.Outputs, r.OneAxis = true, false, true, false, false, false, false
		r.Stages, r.Recovery, r.Clip, r.Rate, r.BaroEvery, r.Vibration, r.Lag, r.Charge = 1, logtest.Single, 0, 100, 2, min(r.Vibration, 5), 0.02, 0
		r.Anomalies = []logtest.Anomaly{{Kind: logtest.Drift, Part: "barometer", Axis: -1, Event: Apogee, Offset: 0.8, Length: 10, Size: -1500}}
		l := logtest.Fly(r)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		at, _ := l.Truth.When(Apogee, 0)
		if m, ok := got.first(Apogee); ok && math.Abs(m.At-at) <= max(m.Within, 0.1) {
			good++
		} else {
			t.Logf("seed %d: %.3f, not %.3f: %v", seed, m.At, at, m)
		}
	}
	assert.GreaterOrEqual(t, good, 7)
}
