package examine

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// TestRestlessFall: a height that swings and gusts move by metres, for seconds at a time, has no more canopies than open.
func TestRestlessFall(t *testing.T) {
	landed := 0
	for seed := range uint64(5) {
		r := heightsOnly(seed, 20, logtest.Dual)
		l := logtest.Fly(r)
		top, _ := l.Truth.When(Apogee, 0)
		land, _ := l.Truth.When(Landing, 0)
		rng, p := rand.New(rand.NewPCG(seed, 3)), 0.0
		each(l, "barometer pressure", func(i int, x float64) float64 {
			if p += 16*rng.NormFloat64() - 0.15*p; l.T[i] > top+2 && l.T[i] < land {
				x += p
			}
			return x
		})
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		n := deployments(got)
		assert.LessOrEqual(t, n, 2, "seed %d", seed)
		off, _ := errs(t, l, got, Deployment, n)
		assert.Less(t, math.Abs(off), 2.0, "seed %d: the main", seed)
		if _, ok := errs(t, l, got, Landing, 0); ok {
			landed++
		}
	}
	assert.GreaterOrEqual(t, landed, 4, "landings in their intervals")
}

// TestFallThatSlowsAtTheEnd: a log that ends soon after the main has opened has no landing.
func TestFallThatSlowsAtTheEnd(t *testing.T) {
	for seed := range uint64(6) {
		r := heightsOnly(seed, 20, logtest.Dual)
		main, ok := logtest.Fly(r).Truth.When(Deployment, 2)
		require.True(t, ok)
		r.End = main + 4
		got, err := Examine(foreignLog(t, logtest.Fly(r)), Options{})
		require.NoError(t, err)
		_, ok = got.first(Landing)
		assert.False(t, ok, "seed %d", seed)
	}
}

// TestPortsNearTheSpeedOfSound: a bump of the height near the speed of sound is the air's at the static ports; at half of it, it is not.
func TestPortsNearTheSpeedOfSound(t *testing.T) {
	for _, c := range []struct {
		speed float64
		cause Cause
	}{{330, Pressured}, {150, Sensor}} {
		r := &Result{Path: Path{T: []float64{0, 5, 10}, Height: []float64{0, 1000, 2000}, Speed: []float64{c.speed, c.speed, c.speed}}}
		e := &examiner{res: r, top: 20}
		f := Finding{Kind: Spike, Part: sim.PartBaro, From: 5, Until: 6, Size: -100}
		e.whyPressed(&f)
		assert.Equal(t, c.cause, f.Explanations[0].Cause, "at %g m/s", c.speed)
	}
}

// TestSecondMotorBeyondTheRange: a second motor that holds the accelerometer at the end of its range all the while burns, though the
// barometer tells of more speed than was felt.
func TestSecondMotorBeyondTheRange(t *testing.T) {
	found := 0
	for seed := range uint64(6) {
		r := calmRecipe(seed)
		r.Stages, r.Clip, r.Rate, r.BaroEvery = 2, 39, 200, 4
		l := logtest.Fly(r)
		got, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		if off, _ := errs(t, l, got, Ignition, 2); math.Abs(off) < 0.1 {
			found++
		}
	}
	assert.Equal(t, 6, found)
}

// TestLateReceiver: at 240 m/s a receiver that is late by a tenth of a second is 24 m behind, which is no spike of its own; 100 m are.
func TestLateReceiver(t *testing.T) {
	e := &examiner{top: 20, res: &Result{}, rise: &signal{t: []float64{4, 5, 6, 7}, x: []float64{0, 240, 200, 160}}}
	z := &signal{part: sim.PartGNSS, axis: sim.AxisZ}
	for size, late := range map[float64]bool{-24: true, -100: false} {
		assert.Equal(t, late, e.fixLate(z, fitted{shape: shape{Spike, 4.2, 7}, size: size}), "%g m", size)
	}
}

// TestFewFixesOnThePad: a log that begins a second before the liftoff has a handful of fixes there, and heights by them are counted from
// the pad.
func TestFewFixesOnThePad(t *testing.T) {
	for seed := range uint64(6) {
		r := calmRecipe(seed)
		r.GNSS, r.GNSSEvery, r.Pad = true, 20, 1.2
		got, err := Examine(foreignLog(t, logtest.Fly(r)), Options{})
		require.NoError(t, err)
		for _, f := range got.Findings {
			assert.NotEqual(t, Drift, f.Kind, "seed %d: %s", seed, list(got.Findings))
		}
		z := got.Raw.GNSSHeight.X
		assert.InDelta(t, 0, z[len(z)-1], 15, "seed %d: where it came down", seed)
	}
}
