package examine

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// TestWithoutAnAccelerometer: what is odd in a log of barometer and receiver alone is found.
func TestWithoutAnAccelerometer(t *testing.T) {
	for n, k := range []logtest.Kind{logtest.Spike, logtest.Step, logtest.Drift, logtest.Stuck} {
		t.Run(string(k), func(t *testing.T) {
			r := logtest.Draw(uint64(500 + n))
			r.Accel, r.Gyro, r.Baro, r.GNSS, r.BaroHeight, r.Charge, r.Rate, r.BaroEvery, r.GNSSEvery = false, false, true, true, false, 0, 50, 1, 10
			r.Add(k)
			l := logtest.Fly(r)
			res, err := Examine(foreignLog(t, l), Options{})
			require.NoError(t, err)
			at, _ := l.Truth.When("apogee", 0)
			m, ok := res.first(Apogee)
			require.True(t, ok)
			assert.InDelta(t, at, m.At, max(m.Within, 0.1))
			if k != logtest.Drift { // of a height alone a slow drift can't be told from the flight
				assert.Condition(t, func() bool {
					for i := range res.Findings {
						if told(l.Truth.Anomalies[0], &res.Findings[i]) {
							return true
						}
					}
					return false
				}, list(res.Findings))
			}
		})
	}
}

// TestCoarseAndCalmIsNotStuck: an accelerometer of coarse steps that stands still says the same for long, and longer where
// what it measures lies between two steps.
func TestCoarseAndCalmIsNotStuck(t *testing.T) {
	const step = 0.05 * gravity
	r := logtest.Draw(611)
	r.Rate, r.Vibration, r.AccelNoise, r.Clip, r.Gyro, r.GNSS, r.Charge, r.OneAxis = 200, 10, 0.08, 0, false, false, 0, false
	l := logtest.Fly(r)
	for _, axis := range []string{"x", "y", "z"} {
		x := l.Column("accelerometer " + axis)
		for i := range x {
			x[i] = step * math.Round((x[i]+0.3*math.Sin(2*math.Pi*l.T[i]/7))/step)
		}
	}
	res, err := Examine(foreignLog(t, l), Options{})
	require.NoError(t, err)
	assert.False(t, slices.ContainsFunc(res.Findings, func(f Finding) bool { return f.Kind == Stuck }), list(res.Findings))
}

// TestAStepWithSharpEdges: a step of the pressure in fast flight is told by its two edges, however much the height bends between
// them, and is no step of the receiver that begins where it ends.
func TestAStepWithSharpEdges(t *testing.T) {
	_, r := spoiltRecipe(112000, 127)
	l := logtest.Fly(r)
	res, err := Examine(foreignLog(t, l), Options{})
	require.NoError(t, err)
	assert.True(t, slices.ContainsFunc(res.Findings, func(f Finding) bool { return told(l.Truth.Anomalies[0], &f) }), list(res.Findings))
	assert.False(t, slices.ContainsFunc(res.Findings, func(f Finding) bool { return f.Part == sim.PartGNSS }), list(res.Findings))
}

// TestBlockedVentsOfANoisyBarometer: the noise of a barometer's samples, which no lag explains, hides none.
func TestBlockedVentsOfANoisyBarometer(t *testing.T) {
	for _, i := range []int{69, 97, 139} {
		_, r := spoiltRecipe(112000, i)
		l := logtest.Fly(r)
		res, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		assert.True(t, slices.ContainsFunc(res.Findings, func(f Finding) bool { return told(l.Truth.Anomalies[0], &f) }), "%d: %s", i, list(res.Findings))
		at, _ := l.Truth.When(Apogee, 0)
		m, ok := res.first(Apogee)
		require.True(t, ok)
		assert.InDelta(t, at, m.At, m.Within, "%d", i)
	}
}

// TestBlockedVents: pressure that follows late is found by its lag, and the flight's times are told in spite of it.
func TestBlockedVents(t *testing.T) {
	for _, lag := range []float64{0.5, 1.1} {
		t.Run(fmt.Sprint(lag), func(t *testing.T) {
			r := foreign(30041)
			r.Anomalies = []logtest.Anomaly{{Kind: logtest.Vent, Part: "barometer", Axis: -1, Size: lag}}
			l := logtest.Fly(r)
			res, err := Examine(foreignLog(t, l), Options{})
			require.NoError(t, err)
			require.Len(t, res.Findings, 1, list(res.Findings))
			f := res.Findings[0]
			assert.Equal(t, Latency, f.Kind)
			assert.Equal(t, sim.PartBaro, f.Part)
			assert.InDelta(t, lag, f.Size, max(f.SizeWithin, 0.2*lag))
			for _, event := range []string{Apogee, Landing} {
				at, _ := l.Truth.When(event, 0)
				m, ok := res.first(event)
				require.True(t, ok, event)
				assert.InDelta(t, at, m.At, max(m.Within, 0.2), event)
			}
			for _, m := range res.Moments {
				assert.Less(t, m.Number, 2, "a single stage under one canopy: %s", m.Name())
			}
		})
	}
}

// TestBurnoutAmongLostRows: where the rows at a burnout are lost, the burnout lies among them.
func TestBurnoutAmongLostRows(t *testing.T) {
	r := foreign(30004)
	r.Stages, r.Charge, r.Thrust[0] = 1, 0, logtest.Flat
	r.Anomalies = []logtest.Anomaly{{Kind: logtest.Gap, Part: "log", Axis: -1, Event: "burnout", Offset: -0.5, Length: 0.9}}
	l := logtest.Fly(r)
	res, err := Examine(foreignLog(t, l), Options{})
	require.NoError(t, err)
	at, _ := l.Truth.When("burnout", 1)
	m, ok := res.first(Burnout)
	require.True(t, ok)
	assert.InDelta(t, at, m.At, m.Within)
	assert.Less(t, m.Within, 1.0)
}

// TestHardCases: anomalies at the phases of the flight, which leave both to be told.
func TestHardCases(t *testing.T) {
	for _, c := range []struct {
		reason string
		number int // of spoiltRecipe
		event  string
		boost  int
	}{
		{"a sensor's spike soon after a canopy's shock is no second shock", 56, Deployment, 1},
		{"a part that sticks on its range's end hides a burnout", 2, Burnout, 1},
		{"a motor that lights among lost rows moves the rocket on, as no jump of the clock does", 74, Ignition, 2},
		{"a burst of noise fills half of a short coast", 6, Burnout, 1},
		{"stages part where a burnout may lie, too: anywhere among lost rows", 18, Separation, 0},
		{"a motor lit just before the clock jumped", 14078, Ignition, 2},
		{"a burst of noise goes on into a burn", 48, Burnout, 2},
	} {
		t.Run(c.reason, func(t *testing.T) {
			t.Parallel()
			_, r := spoiltRecipe(50000, c.number)
			l := logtest.Fly(r)
			res, err := Examine(foreignLog(t, l), Options{})
			require.NoError(t, err)
			a := l.Truth.Anomalies[0]
			assert.True(t, slices.ContainsFunc(res.Findings, func(f Finding) bool { return told(a, &f) }), "%s: %s", a.Kind, list(res.Findings))
			at, _ := l.Truth.When(c.event, c.boost)
			i := slices.IndexFunc(res.Moments, func(m Moment) bool { return m.Event == c.event && m.Number == c.boost })
			require.GreaterOrEqual(t, i, 0)
			assert.InDelta(t, at, res.Moments[i].At, max(0.1, res.Moments[i].Within))
		})
	}
}

// TestASidewaysPathIsNoFault: a receiver that tells no speed shows how the rocket flies and drifts to the side, which no other
// sensor knows of.
func TestASidewaysPathIsNoFault(t *testing.T) {
	for seed := uint64(620); seed < 623; seed++ {
		r := foreign(seed)
		r.Accel, r.Baro, r.GNSS, r.Charge, r.Rate = true, true, true, 0, 50
		l := logtest.Fly(r)
		for i := len(l.Columns) - 1; i >= 0; i-- { // its speeds are not kept
			if c := l.Columns[i].Is; c == "gnss east" || c == "gnss north" || c == "gnss up" {
				l.Columns = append(l.Columns[:i], l.Columns[i+1:]...)
			}
		}
		east := l.Column("gnss longitude")
		for i, at := range l.T { // a gust, and a canopy that glides to and fro
			east[i] += 1e-5 * (5*math.Sin(at/4) + 20/(1+math.Exp(40-at)))
		}
		res, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		for _, f := range res.Findings {
			assert.False(t, f.Part == sim.PartGNSS && f.Kind != Latency, list(res.Findings))
		}
	}
}
