package examine

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// TestCoarseCalm: an accelerometer with coarse steps says the same while nothing moves it, such as between a charge and the pull of the
// lines, and its vibration meets a value near a common range's end now and then. Neither is stuck or clipped, nor is a rocket that lies still.
func TestCoarseCalm(t *testing.T) {
	for seed := range uint64(6) {
		r := calmRecipe(40 + seed)
		r.AccelNoise, r.Vibration, r.Pack, r.Rate, r.Clip, r.Down = 0.02, 12, 0.8, 200, 0, seed%2 == 1
		r.BaroEvery = 8
		l := logtest.Fly(r)
		step := []float64{0.12, 0.49, 0.98}[seed%3] // m/s2
		each(l, "accelerometer", func(_ int, x float64) float64 { return step * math.Round(x/step) })
		res, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		for i := range res.Findings {
			f := &res.Findings[i]
			assert.False(t, f.Part == sim.PartAccel && (f.Kind == Clipped || f.Kind == Stuck || f.Kind == NoiseBurst), "%d at %g m/s2: %s", seed, step, list(res.Findings[i:i+1]))
		}
	}
}
