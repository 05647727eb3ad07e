package examine

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
)

// TestGasThatStays: small vents let the gas of a charge out within tenths of a second. That is a pressure event, and moves neither the
// apogee nor the openings.
func TestGasThatStays(t *testing.T) {
	found, all, near := 0, 0, 0
	for seed := range uint64(8) {
		r := foreign(200 + seed)
		r.Rate, r.Recovery, r.BaroHeight = []float64{50, 100, 200, 400}[seed%4], logtest.Dual, seed%3 == 2
		r.BaroEvery = int(r.Rate / []float64{10, 25, 50}[seed%3])
		r.Charge, r.ChargeStay = 2000+1000*float64(seed), []float64{0.12, 0.25, 0.5, 0.8}[seed/2%4]
		if seed%2 == 1 {
			r.Pack = 0.5
		}
		l := logtest.Fly(r)
		res, err := Examine(foreignLog(t, l), Options{})
		require.NoError(t, err)
		for n := 1; n <= 2; n++ {
			at, ok := l.Truth.When("deployment", n)
			require.True(t, ok)
			all++
			hit := false
			for i := range res.Findings {
				f := &res.Findings[i]
				hit = hit || f.Kind == Spike && f.Explanations[0].Cause == Pressured && f.From > at-r.Pack-0.2 && f.From < at-r.Pack+0.2
			}
			if hit {
				found++
			} else {
				t.Logf("%d: no gas of %g Pa for %g s at %.2f s: %s", seed, r.Charge, r.ChargeStay, at-r.Pack, list(res.Findings))
			}
		}
		if off, within := errs(t, l, res, Apogee, 0); within || off < 0.1 && off > -0.1 {
			near++
		} else {
			t.Logf("%d: apogee off by %.3f s", seed, off)
		}
	}
	assert.GreaterOrEqual(t, found, all-2)
	assert.GreaterOrEqual(t, near, 7)
}
