package examine

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs"
	"drystage/harness/logs/logtest"
	"drystage/harness/logs/phases"
	"drystage/sim"
)

// heightsOnly is a log of a barometer and nothing else, at a rate, with a part of the flight's recovery.
func heightsOnly(seed uint64, rate float64, way logtest.Recovery) logtest.Recipe {
	r := logtest.Draw(seed)
	r.Accel, r.Gyro, r.GNSS, r.Battery, r.Own, r.Outputs = false, false, false, false, false, false
	r.Baro, r.BaroEvery, r.Rate, r.Jitter, r.Recovery, r.Charge = true, 1, rate, 0, way, 0
	return r
}

// TestHeightAlone: a barometer alone tells liftoff, canopies and landing, as well as it says; a height above the sea is one, too.
func TestHeightAlone(t *testing.T) {
	within, all := 0, 0
	for seed := range uint64(12) {
		r := heightsOnly(seed, []float64{4, 10, 20, 50}[seed%4], []logtest.Recovery{logtest.Dual, logtest.Single, logtest.NoDrogue}[seed%3])
		r.BaroHeight = seed%2 == 1
		l := logtest.Fly(r)
		if r.BaroHeight {
			for i := range l.Columns[0].X {
				l.Columns[0].X[i] += 700
			}
		}
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		top, _ := got.Path.greatest()
		assert.InDelta(t, l.Truth.Apogee, top, 0.09*l.Truth.Apogee, "seed %d: heights are counted from the pad", seed)
		all++
		if d := got.Touchdown; math.Abs(d.Speed-l.Truth.LandingSpeed) <= d.Within {
			within++
		}
		for _, p := range l.Truth.Phases {
			if p.Event != Liftoff && p.Event != Deployment && p.Event != Landing {
				continue
			}
			all++
			for _, m := range got.Moments {
				if m.Event == p.Event && m.Number == p.Number && math.Abs(m.At-p.At) <= m.Within+p.Soft {
					within++
				}
			}
		}
	}
	assert.GreaterOrEqual(t, float64(within), 0.9*float64(all), "%d of %d", within, all)
}

// TestCutFallHasNoLanding: a slow height that ends in the fall looks level for some samples, and is none of the ground.
func TestCutFallHasNoLanding(t *testing.T) {
	for seed := range uint64(4) {
		r := heightsOnly(seed, 10, logtest.Dual)
		land, _ := logtest.Fly(r).Truth.When(Landing, 0)
		r.End = land - 15
		got, err := Examine(foreignLog(t, logtest.Fly(r)), Options{})
		require.NoError(t, err)
		_, ok := got.first(Landing)
		assert.False(t, ok, "seed %d", seed)
	}
}

// TestLandingByShock: without any height the ground's shock, and the rest after it, tell the landing.
func TestLandingByShock(t *testing.T) {
	found := 0
	for seed := range uint64(4) {
		r := logtest.Draw(seed)
		r.Accel, r.OneAxis, r.Gyro, r.Baro, r.GNSS, r.Battery, r.Rate, r.Vibration, r.Clip = true, false, false, false, false, false, 200, 1, 0
		l := logtest.Fly(r)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		at, _ := l.Truth.When(Landing, 0)
		if m, ok := got.first(Landing); ok && math.Abs(m.At-at) < 0.1 {
			found++
		}
	}
	assert.GreaterOrEqual(t, found, 3)
}

// TestDragIsNoCanopy: the drag of a rocket that falls nose first grows as a canopy's does, but brakes nothing.
func TestDragIsNoCanopy(t *testing.T) {
	for seed := range uint64(4) {
		r := logtest.Draw(seed)
		r.Accel, r.Baro, r.OneAxis, r.GNSS, r.Outputs, r.Recovery, r.Stages, r.Clip = true, true, false, false, false, logtest.Ballistic, 1, 0
		got, err := Examine(foreignLog(t, logtest.Fly(r)), Options{})
		require.NoError(t, err)
		_, ok := got.first(Deployment)
		assert.False(t, ok, "seed %d", seed)
	}
}

// TestSlowStretchesAreNotSilent: a logger may write slowly before and after the flight, and a part may tell one of its
// channels more often than the other.
func TestSlowStretchesAreNotSilent(t *testing.T) {
	for _, slow := range []string{"rows", "pressure"} {
		r := heightsOnly(2, 200, logtest.Dual)
		l := logtest.Fly(r)
		lift, _ := l.Truth.When(Liftoff, 0)
		top, _ := l.Truth.When(Apogee, 0)
		temperature := make([]float64, len(l.T))
		p := l.Columns[0].X
		kept := 0
		for i, at := range l.T {
			if slow == "rows" && (at < lift-1 || at > top+5) && i%20 != 0 {
				continue
			}
			l.T[kept], p[kept], temperature[kept] = at, p[i], 290+0.001*at
			if slow == "pressure" && i%8 != 0 {
				p[kept] = math.NaN()
			}
			kept++
		}
		l.T[0] -= 0.5 // the logger's first row, long before the others
		l.T = l.T[:kept]
		l.Columns = []logtest.Column{{Is: "barometer pressure", X: p[:kept]}, {Is: "barometer temperature", X: temperature[:kept]}}
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		for _, f := range got.Findings {
			assert.NotEqual(t, Dropout, f.Kind, "%s: %s", slow, fmt.Sprint(f))
			assert.NotEqual(t, sim.NoPart, f.Part, slow)
		}
	}
}

// TestUnguidedBump: where a barometer is alone, a bump that a motor may have made is the rocket's, and a sharper one is not.
func TestUnguidedBump(t *testing.T) {
	e, b := &examiner{}, &signal{part: sim.PartBaro}
	assert.True(t, e.unguided(b, fitted{shape: shape{Spike, 10, 11.4}, size: -14}))
	assert.False(t, e.unguided(b, fitted{shape: shape{Spike, 10, 10.1}, size: 200}))
	e.accel[0] = &signal{}
	assert.False(t, e.unguided(b, fitted{shape: shape{Spike, 10, 11.4}, size: -14}), "an accelerometer would have felt it")
}

// TestLongStepGoesBack: two jumps of a rate that die away, seconds apart, are no step between them.
func TestLongStepGoesBack(t *testing.T) {
	real, dying := &signal{step: 0.01}, &signal{step: 0.01}
	for i := range 2000 {
		at := 0.01 * float64(i)
		x, y := 0.0, 0.0
		if at > 5 && at < 15 {
			x = 1
		}
		for sign, from := range map[float64]float64{1: 5, -1: 15} {
			if at > from {
				y += sign * math.Exp(-(at-from)/0.05)
			}
		}
		for g, v := range map[*signal]float64{real: x, dying: y} {
			g.t, g.x, g.mask = append(g.t, at), append(g.x, v+0.01*math.Sin(37*at)), append(g.mask, false)
		}
	}
	f := fitted{shape: shape{Step, 5, 15}, size: 1}
	assert.True(t, real.persists(f))
	assert.False(t, dying.persists(f))
}

// TestShortSagIsALoad: a battery that falls and comes back within a second was loaded, whatever the log knows of it.
func TestShortSagIsALoad(t *testing.T) {
	e := &examiner{log: &logs.Log{}}
	assert.Equal(t, Load, e.whySagged(&Finding{Size: -0.3, From: 10, Until: 10.2})[0].Cause)
	assert.Greater(t, e.whySagged(&Finding{Size: -0.3, From: 10, Until: 10.2})[0].Share, openBelief)
	assert.Equal(t, Sensor, e.whySagged(&Finding{Size: 0.3, From: 10, Until: 10.2})[0].Cause)
}

// TestTransonicBurn: static ports that err near the speed of sound deny no motor that the accelerometer felt.
func TestTransonicBurn(t *testing.T) {
	for _, seed := range []uint64{15, 37, 111} {
		r := foreign(seed)
		r.Stages, r.Clip, r.GNSS, r.Charge, r.Pad = 2, 0, false, 0, 3
		r.Add(logtest.Transonic)
		got, err := Examine(foreignLog(t, logtest.Fly(r)), Options{})
		require.NoError(t, err)
		_, ok := got.first(Ignition)
		assert.True(t, ok, "seed %d", seed)
	}
}

// TestOffsetPartStandsStill: a part for great accelerations reads metres a second squared off, steadily, which is no motion; what
// a rocket feels in its coast dies away.
func TestOffsetPartStandsStill(t *testing.T) {
	for _, c := range []struct {
		reason string
		x      func(at float64) float64
		moves  bool
	}{
		{"an offset", func(float64) float64 { return 12.4 }, false},
		{"drag", func(at float64) float64 { return 14.5 - 2*at }, true},
		{"thrust", func(float64) float64 { return 60 }, true},
	} {
		e := &examiner{log: &logs.Log{}, padEnd: 2.3}
		for axis := range e.accel {
			g := &signal{step: 0.01}
			for i := range 300 {
				at, x := 0.01*float64(i), 0.0
				if axis == 0 {
					x = c.x(at)
				}
				g.t, g.x, g.mask = append(g.t, at), append(g.x, x), append(g.mask, false)
			}
			e.accel[axis] = g
		}
		assert.Equal(t, c.moves, e.moving() != "", c.reason)
	}
}

// TestKickIsNoSpike: the sample in which a motor lights may stand out at slow rates.
func TestKickIsNoSpike(t *testing.T) {
	e := &examiner{burns: []phases.Burn{{On: phases.Edge{At: 4}, Off: phases.Edge{At: 6}}}}
	assert.True(t, e.kicks(4.05))
	assert.False(t, e.kicks(3.9))
	assert.False(t, e.kicks(5))
}

// TestSilenceOfAllIsTheLoggers: in a log of one part nobody knows whether the part or the logger fell silent.
func TestSilenceOfAllIsTheLoggers(t *testing.T) {
	r := heightsOnly(3, 50, logtest.Dual)
	r.Add(logtest.Gap)
	got, err := Examine(foreignLog(t, logtest.Fly(r)), Options{})
	require.NoError(t, err)
	for _, f := range got.Findings {
		if f.Kind == Dropout {
			assert.Equal(t, sim.NoPart, f.Part)
			assert.NotEqual(t, Sensor, f.Explanations[0].Cause)
		}
	}
}

// TestHandledOnThePad: what shakes a lone axis before liftoff is as likely the rocket as the part.
func TestHandledOnThePad(t *testing.T) {
	r := logtest.Draw(4)
	r.Accel, r.Baro, r.Gyro, r.OneAxis, r.GNSS, r.Battery, r.Rate, r.Pad, r.Axis, r.Jitter = true, true, false, true, false, false, 50, 12, 0, 0
	r.Anomalies = []logtest.Anomaly{{Kind: logtest.Noise, Part: "accelerometer", Axis: 0, Event: Liftoff, Offset: -6, Length: 1.5, Size: 3}}
	got, err := Examine(foreignLog(t, logtest.Fly(r)), Options{})
	require.NoError(t, err)
	found := false
	for _, f := range got.Findings {
		if f.Kind == NoiseBurst && f.Part == sim.PartAccel {
			found = true
			assert.Equal(t, Shock, f.Explanations[0].Cause)
		}
	}
	assert.True(t, found)
}
