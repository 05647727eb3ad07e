package examine

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// TestPack: a charge throws the pack out, and the lines pull softly some tenths of a second later. The opening is that pull, not
// the charge's shock.
func TestPack(t *testing.T) {
	right, all := 0, 0
	for seed := range uint64(8) {
		r := foreign(seed)
		r.Rate, r.Stages, r.Recovery, r.Pack = []float64{50, 100, 200, 400}[seed%4], 1, logtest.Dual, []float64{0.4, 0.6, 0.8}[seed%3]
		r.BaroEvery, r.OneAxis, r.Gyro = int(r.Rate/25), seed%5 == 4, r.Gyro && seed%5 != 4
		l := logtest.Fly(r)
		res, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		for n := 1; n <= 2; n++ {
			off, within := errs(t, l, res, Deployment, n)
			if all++; within || off < 0.1 && off > -0.1 {
				right++
			} else {
				t.Logf("%d at %g Hz, %.2f s: deployment %d off by %.3f s", seed, r.Rate, r.Pack, n, off)
			}
		}
	}
	assert.GreaterOrEqual(t, right, all-1, fmt.Sprintf("%d of %d openings", right, all))
}

// TestEarlyCharge: a charge that fires one to three seconds before the apogee parts no stages and lights no motor.
func TestEarlyCharge(t *testing.T) {
	right := 0
	const logs = 6
	for seed := range uint64(logs) {
		r := foreign(60 + seed)
		r.Rate, r.Stages, r.Recovery, r.Pack, r.Early = []float64{50, 100, 200, 400}[seed%4], 1, logtest.Dual, 0.5, 1.2+0.25*float64(seed)
		r.BaroEvery = int(r.Rate / 25)
		l := logtest.Fly(r)
		res, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		off, within := errs(t, l, res, Deployment, 1)
		_, parted := res.first(Separation)
		_, lit := res.first(Ignition)
		if (within || off < 0.1 && off > -0.1) && !parted && !lit {
			right++
		} else {
			t.Logf("%d at %g Hz, %.2f s early: deployment 1 off by %.3f s, parted %v, lit %v", seed, r.Rate, r.Early, off, parted, lit)
		}
	}
	assert.GreaterOrEqual(t, right, logs-1)
}

// TestSlackLines: lines that go slack and taut again pull for a sample, while the canopy finds its place. That is no fault of the part; the
// same in the coast is.
func TestSlackLines(t *testing.T) {
	for seed := range uint64(4) {
		for _, when := range []string{Deployment, Burnout} {
			r := calmRecipe(70 + seed)
			r.Recovery, r.Down, r.OneAxis = logtest.Dual, false, false
			l := logtest.Fly(r)
			at, ok := l.Truth.When(when, 1)
			require.True(t, ok)
			axis := string("xyz"[r.Axis])
			each(l, "accelerometer "+axis, func(i int, x float64) float64 {
				if d := l.T[i] - at - 1.1; d >= 0 && d < 1/r.Rate {
					return x - 14
				}
				return x
			})
			res, err := Examine(foreignLog(t, l), Options{})
			require.NoError(t, err)
			said := slices.ContainsFunc(res.Findings, func(f Finding) bool { return f.Kind == Spike && f.Part == sim.PartAccel && !f.Real() })
			assert.Equal(t, when == Burnout, said, "%d, %s: %s", seed, when, list(res.Findings))
		}
	}
}
