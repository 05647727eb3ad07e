package examine

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// TestAShiftIsNoBlow: a drift of the accelerometer that ends in the coast between two motors jumps back harder than stages part,
// and is no separation.
func TestAShiftIsNoBlow(t *testing.T) {
	f := oneFlight(t, 0)
	off, _ := happened(f.events, "booster.burnout")
	parted, _ := happened(f.events, "separation")
	drift := sim.Fault{Kind: sim.Drift, Part: sim.PartAccel, Axis: sim.AxisX, From: sim.Anchor{Offset: off - 500*sim.Millisecond}, Duration: 1900 * sim.Millisecond, Value: -9.8}
	r, err := Examine(f.log(t, 3, drift), Options{})
	require.NoError(t, err)
	m, ok := r.first(Separation)
	require.True(t, ok)
	assert.InDelta(t, parted.Seconds(), m.At, 0.02)
	found := false
	for _, x := range r.Findings {
		found = found || matches(x, drift)
	}
	assert.True(t, found, list(r.Findings))
}

// TestALongBrakeIsNoBurn: a step of the accelerometer that begins a moment after the burnout and lasts is told from the burn.
func TestALongBrakeIsNoBurn(t *testing.T) {
	f := oneFlight(t, 3) // of much drag
	off, _ := happened(f.events, "sustainer.burnout")
	step := sim.Fault{Kind: sim.Step, Part: sim.PartAccel, Axis: sim.AxisX, From: sim.Anchor{Offset: off + 150*sim.Millisecond}, Duration: 1500 * sim.Millisecond, Value: -32}
	r, err := Examine(f.log(t, 3, step), Options{})
	require.NoError(t, err)
	found := false
	for _, x := range r.Findings {
		found = found || matches(x, step)
	}
	assert.True(t, found, list(r.Findings))
	for _, m := range r.Moments {
		if m.Event == Burnout && m.Number == 2 {
			assert.InDelta(t, off.Seconds(), m.At, 0.1)
		}
	}
}
