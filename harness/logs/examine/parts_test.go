package examine

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs"
	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// What other boards' parts do, done to logs of the second source.

// calmRecipe is a clean log of accelerometer and barometer.
func calmRecipe(seed uint64) logtest.Recipe {
	r := foreign(seed)
	r.Gyro, r.GNSS, r.Battery, r.Own, r.Outputs, r.Clip, r.Charge, r.Jitter = false, false, false, false, false, 0, 0, 0
	r.Rate, r.BaroEvery, r.Stages, r.Vibration, r.AccelNoise, r.Thrust, r.Pad = 100, 4, 1, 2, 0.05, [2]logtest.Curve{}, 5
	return r
}

// deployments counts those that were found.
func deployments(got *Result) (n int) {
	for _, m := range got.Moments {
		if m.Event == Deployment {
			n++
		}
	}
	return n
}

// each does something to every sample of some columns.
func each(l *logtest.Log, names string, do func(i int, x float64) float64) {
	for c := range l.Columns {
		if strings.HasPrefix(l.Columns[c].Is, names) {
			for i, x := range l.Columns[c].X {
				l.Columns[c].X[i] = do(i, x)
			}
		}
	}
}

// errs gives how far a moment lies from the truth, and whether that is in its interval.
func errs(t *testing.T, l *logtest.Log, r *Result, event string, number int) (off float64, within bool) {
	at, ok := l.Truth.When(event, number)
	require.True(t, ok, event)
	for _, m := range r.Moments {
		if m.Event == event && (m.Number == number || number == 0) {
			return m.At - at, math.Abs(m.At-at) <= m.Within
		}
	}
	return math.Inf(1), false
}

// TestCoarseSteps: on the pad a part with coarse steps says the same to the last digit until the rocket leaves, or now and then its next
// step. Neither is stuck, nor a liftoff.
func TestCoarseSteps(t *testing.T) {
	for seed := range uint64(8) {
		r := calmRecipe(seed)
		r.Pad, r.AccelNoise = 10, 0.01
		step := 0.24 // m/s2
		if seed%2 == 1 {
			r.AccelNoise, step = 0.25, 0.96
		}
		l := logtest.Fly(r)
		lift, _ := l.Truth.When(Liftoff, 0)
		rng := rand.New(rand.NewPCG(seed, 1))
		each(l, "accelerometer", func(i int, x float64) float64 {
			if l.T[i] > lift {
				x += 0.8 * rng.NormFloat64()
			}
			return math.Round(x/step) * step
		})
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		off, _ := errs(t, l, got, Liftoff, 0)
		assert.Less(t, math.Abs(off), 0.03, "seed %d: liftoff", seed)
		for _, f := range got.Findings {
			assert.NotEqual(t, Stuck, f.Kind, "seed %d: %s", seed, list(got.Findings))
		}
	}
}

// TestStuckOnThePad: a part that sticks from the first row on, and wakes before the rocket leaves, is found.
func TestStuckOnThePad(t *testing.T) {
	l := logtest.Fly(calmRecipe(1))
	each(l, "accelerometer", func(i int, x float64) float64 {
		if i < 200 {
			return 9.5
		}
		return x
	})
	got, err := Examine(foreignLog(t, l), Options{})
	require.NoError(t, err)
	assert.True(t, slicesAny(got.Findings, func(f *Finding) bool { return f.Kind == Stuck && f.Part == sim.PartAccel }), list(got.Findings))
}

func slicesAny(fs []Finding, is func(*Finding) bool) bool {
	for i := range fs {
		if is(&fs[i]) {
			return true
		}
	}
	return false
}

// TestRowsLostByChance: a logger that loses a row in fifty loses two or three in a row, too. A long silence is still one.
func TestRowsLostByChance(t *testing.T) {
	r := calmRecipe(3)
	r.BaroEvery = 1
	l := logtest.Fly(r)
	rng := rand.New(rand.NewPCG(4, 4))
	long := int(8 * r.Rate)
	cutRows(l, func(i int) bool { return rng.Float64() < 0.02 || i > long && i < long+60 })
	got, err := Examine(foreignLog(t, l), Options{})
	require.NoError(t, err)
	require.Len(t, got.Findings, 1, list(got.Findings))
	assert.Equal(t, Dropout, got.Findings[0].Kind)
	assert.InDelta(t, 0.6, got.Findings[0].Until-got.Findings[0].From, 0.05)
}

// cutRows leaves rows out.
func cutRows(l *logtest.Log, out func(i int) bool) {
	keep := make([]bool, len(l.T))
	for i := range keep {
		keep[i] = !out(i)
	}
	kept := func(x []float64) (y []float64) {
		for i := range x {
			if keep[i] {
				y = append(y, x[i])
			}
		}
		return y
	}
	for c := range l.Columns {
		l.Columns[c].X = kept(l.Columns[c].X)
	}
	l.T = kept(l.T)
}

// TestHeldBattery: rows that repeat a slow converter's voltage hold no more of it than the converter said, be its rate even or not.
func TestHeldBattery(t *testing.T) {
	for _, uneven := range []float64{0, 0.6} {
		r := calmRecipe(2)
		r.Rate, r.Battery, r.VoltNoise, r.BatteryEvery = 200, true, 0.008, 1
		l := logtest.Fly(r)
		rng := rand.New(rand.NewPCG(1, 1))
		held, until := 0.0, 0.0
		each(l, "battery", func(i int, x float64) float64 {
			if l.T[i] >= until {
				held, until = x, l.T[i]+0.08*(1+uneven*(rng.Float64()-0.5))
			}
			return held
		})
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		assert.Empty(t, got.Findings, "uneven by %g: %s", uneven, list(got.Findings))
	}
}

// TestMainBelowAShakenDrogue: what swings below a drogue, and an accelerometer that reads too much, feel more than one g for minutes; the
// main opens where the fall is braked.
func TestMainBelowAShakenDrogue(t *testing.T) {
	good := 0
	for seed := range uint64(6) {
		r := calmRecipe(seed)
		r.Recovery = logtest.Dual
		l := logtest.Fly(r)
		top, _ := l.Truth.When(Apogee, 0)
		land, _ := l.Truth.When(Landing, 0)
		rng := rand.New(rand.NewPCG(seed, 7))
		each(l, "accelerometer "+string("xyz"[r.Axis]), func(i int, x float64) float64 {
			if l.T[i] > top+2 && l.T[i] < land {
				x += math.Copysign(2+0.2*rng.NormFloat64(), x)
				if since := l.T[i] - top - 8; since > 0 && since < 0.5 { // a gust
					x += math.Copysign(4, x)
				}
			}
			return x
		})
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		n := deployments(got)
		if off, within := errs(t, l, got, Deployment, 2); n == 2 && (within || math.Abs(off) < 0.5) {
			good++
		}
	}
	assert.GreaterOrEqual(t, good, 5)
}

// TestSlowBarometer: bays and parts that filter are late by a tenth of a second. An apogee by height alone says so.
func TestSlowBarometer(t *testing.T) {
	within := 0
	for seed := range uint64(12) {
		r := heightsOnly(seed, 50, logtest.Single)
		r.Lag, r.Charge, r.BaroNoise = 0.13, 0, 2
		l := logtest.Fly(r)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		if _, ok := errs(t, l, got, Apogee, 0); ok {
			within++
		}
	}
	assert.GreaterOrEqual(t, within, 11)
}

// TestUnevenThrustByHeight: of a motor whose thrust grows, and of a second one, the height alone tells the liftoff.
func TestUnevenThrustByHeight(t *testing.T) {
	for seed := range uint64(8) {
		r := heightsOnly(seed, []float64{10, 25, 50}[seed%3], logtest.Single)
		r.Stages, r.BaroNoise, r.Lag = 1+int(seed)%2, 2, 0.02
		r.Thrust = [2]logtest.Curve{logtest.Progressive, logtest.Progressive}
		l := logtest.Fly(r)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		off, within := errs(t, l, got, Liftoff, 0)
		assert.True(t, within, "seed %d: off by %.3f s", seed, off)
	}
}

// TestLogThatBeginsJustBefore: a height alone from 1.1 s before the liftoff on shows its pad.
func TestLogThatBeginsJustBefore(t *testing.T) {
	for seed := range uint64(4) {
		r := heightsOnly(seed, 50, logtest.Single)
		r.Pad, r.BaroHeight, r.BaroNoise = 1.1, true, 8
		l := logtest.Fly(r)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		off, within := errs(t, l, got, Liftoff, 0)
		assert.True(t, within, "seed %d: off by %.3f s", seed, off)
	}
}

// TestAveragedSamples: a board that keeps the mean of its last samples sees edges late, here by three quarters of a sample of its log.
func TestAveragedSamples(t *testing.T) {
	within, all := 0, 0
	for seed := range uint64(8) {
		r := calmRecipe(seed)
		r.Rate, r.BaroEvery = 1000, 20
		l := logtest.Fly(r)
		const n, wide = 20, 30 // 50 a second, of the last 30
		for c := range l.Columns {
			x, sum := l.Columns[c].X, 0.0
			if !strings.HasPrefix(l.Columns[c].Is, "accelerometer") {
				continue
			}
			y := make([]float64, len(x))
			for i := range x {
				if sum += x[i]; i >= wide {
					sum -= x[i-wide]
				}
				y[i] = sum / float64(min(i+1, wide))
			}
			l.Columns[c].X = y
		}
		cutRows(l, func(i int) bool { return i%n != 0 })
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		for _, event := range []string{Liftoff, Burnout} {
			all++
			if _, ok := errs(t, l, got, event, map[string]int{Burnout: 1}[event]); ok {
				within++
			}
		}
	}
	assert.GreaterOrEqual(t, within, all-2)
}

// TestBoosterTumbles: what an accelerometer beside its centre feels of a booster's tumbling is no motor, and no speed.
func TestBoosterTumbles(t *testing.T) {
	for seed := range uint64(4) {
		r := calmRecipe(seed)
		r.Gyro = true
		l := logtest.Fly(r)
		off, _ := l.Truth.When(Burnout, 1)
		top, _ := l.Truth.When(Apogee, 0)
		spin := 9 + 2*float64(seed) // rad/s
		since := func(i int) float64 { return min(max(l.T[i]-off-0.5, 0), top-off-0.5) }
		along := "accelerometer " + string("xyz"[r.Axis])
		each(l, along, func(i int, x float64) float64 {
			s := since(i)
			if s == 0 || l.T[i] > top {
				return x
			}
			drag := 35 * math.Exp(-s) // m/s2, now from the front and now from behind
			sign := 1.0
			if r.Down {
				sign = -1
			}
			return sign * (0.2*spin*spin - drag*math.Cos(spin*s))
		})
		each(l, fmt.Sprintf("gyro %c", "xyz"[(r.Axis+1)%3]), func(i int, x float64) float64 {
			if since(i) > 0 && l.T[i] < top {
				return x + spin
			}
			return x
		})
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err, "seed %d", seed)
		lift, _ := errs(t, l, got, Liftoff, 0)
		assert.Less(t, math.Abs(lift), 0.1, "seed %d: liftoff", seed)
		for _, m := range got.Moments {
			assert.NotEqual(t, Ignition, m.Event, "seed %d at %.2f s", seed, m.At)
		}
	}
}

// TestLongIsAlong: an axis called long is one of the accelerometer, not a longitude.
func TestLongIsAlong(t *testing.T) {
	text := "time_ms,acc_long [g],press [Pa]\n"
	for i := range 400 {
		text += fmt.Sprintf("%d,%.3f,%d\n", i*10, 1+0.01*float64(i%3), 101300+i%5)
	}
	p, err := logs.Propose(strings.NewReader(text), "x.csv")
	require.NoError(t, err)
	assert.Empty(t, p.Doubts)
	assert.Equal(t, "accelerometer x", p.Mapping.Columns[0].Is)
}
