package examine

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// boostAcceleration is about what the shipped rocket's booster gives it, thrust over mass, in m/s2.
const boostAcceleration = 60

// TestMotorVibration: the shipped two-stage rocket, its accelerometer shaken by its motors as much as
// parts of the trade are: every phase is found, and nothing is invented.
func TestMotorVibration(t *testing.T) {
	f := fly(loaded(t, ""))
	for _, c := range []struct {
		vibration float64 // m/s2 rms
		rng       float64 // m/s2 of the accelerometer; 0: as it is
		rate      float64 // Hz; 0: as it is
		reason    string
	}{
		{2, 0, 0, "a quiet motor"},
		{5, 0, 0, "a common one"},
		{15, 0, 0, "a loud one"},
		{30, 0, 0, "the loudest that parts' sheets tell of"},
		{15, 100, 0, "a loud one, clipped for most of the boost"},
		{30, 0, 50, "a slow log"},
	} {
		t.Run(fmt.Sprintf("%.0f %s", c.vibration, c.reason), func(t *testing.T) {
			g := f
			g.setup.Bays = slices.Clone(g.setup.Bays)
			a := &g.setup.Bays[0].Sensors.Accel
			g.setup.Vehicle.Vibration = sim.Vibration{Share: c.vibration / boostAcceleration, Band: 400}
			if c.rng > 0 {
				a.Range = c.rng
			}
			if c.rate > 0 {
				a.Rate = c.rate
			}
			r, err := Examine(g.log(t, 3), Options{})
			require.NoError(t, err)
			for _, w := range truths {
				at, ok := happened(g.events, w.name)
				require.True(t, ok, w.name)
				i := slices.IndexFunc(r.Moments, func(m Moment) bool { return m.Event == w.event && (m.Number == w.number || w.number == 0) })
				if assert.GreaterOrEqual(t, i, 0, "no %s; %v", w.name, r.Moments) {
					m := r.Moments[i]
					assert.LessOrEqual(t, math.Abs(m.At-at.Seconds()), max(0.1, m.Within), "%s at %.3f +- %.3f s, not %.3f s", w.name, m.At, m.Within, at.Seconds())
				}
			}
			for _, x := range r.Findings {
				assert.Contains(t, []Kind{Clipped}, x.Kind, list(r.Findings))
			}
		})
	}
}
