package examine

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// TestChargesAreToldFromSpikes: gas of 20 to 150 hPa for 50 ms at the drogue is a charge's, and does not move the
// apogee; the same fall of pressure in the coast is the sensor's.
func TestChargesAreToldFromSpikes(t *testing.T) {
	f := fly(loaded(t, ""))
	top, _ := happened(f.events, "apogee")
	for _, size := range []float64{2000, 5000, 15000} {
		r, err := Examine(f.log(t, 3, sim.Fault{Kind: sim.Spike, Part: sim.PartBaro, From: sim.Anchor{Offset: top + 200*sim.Millisecond}, Duration: 60 * sim.Millisecond, Value: size}), Options{})
		require.NoError(t, err)
		require.Len(t, r.Findings, 1, list(r.Findings))
		x := r.Findings[0]
		assert.Equal(t, Pressured, x.Explanations[0].Cause)
		assert.Greater(t, x.Explanations[0].Share, 0.9)
		assert.InDelta(t, top.Seconds()+0.2, x.From, 0.05)
		m, ok := r.first(Apogee)
		require.True(t, ok)
		assert.InDelta(t, top.Seconds(), m.At, 0.05)
		_, v := r.Path.at(m.At)
		assert.InDelta(t, 0, v, 1, "the smoothed speed at the apogee")
	}
}
