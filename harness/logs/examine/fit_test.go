package examine

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFitFindsTheScales: a rocket with 25 % more drag and 8 % less thrust than its file says is found
// out, and the corrected prediction is right.
func TestFitFindsTheScales(t *testing.T) {
	said := draggy(t, 0.5)
	said.Bays[0].Sensors.Accel.Range = 500
	real := draggy(t, 0.5*1.25)
	real.Vehicle.Stages[0].Mount.Motor.Thrust = scaleThrust(said, 0.92)
	f := fly(real)
	r, err := Examine(f.log(t, 3), Options{Setup: &said})
	require.NoError(t, err)
	require.NotNil(t, r.Fit)
	t.Logf("drag x %.3f +- %.3f, thrust x %.3f +- %.3f; apogee %.1f m by log, %.1f said, %.1f corrected; speed off by %.2f, then %.2f m/s",
		r.Fit.Drag, r.Fit.DragWithin, r.Fit.Thrust, r.Fit.ThrustWithin, r.Fit.Measured, r.Fit.Before, r.Fit.After, r.Fit.RMSBefore, r.Fit.RMSAfter)
	assert.InDelta(t, 1.25, r.Fit.Drag, 0.03)
	assert.InDelta(t, 0.92, r.Fit.Thrust, 0.02)
	assert.InDelta(t, 1.25, r.Fit.Drag, r.Fit.DragWithin)
	assert.InDelta(t, r.Fit.Measured, r.Fit.After, 4)
	assert.Less(t, r.Fit.DragWithin, 0.1)
	assert.Less(t, r.Fit.RMSAfter, 0.2*r.Fit.RMSBefore)
}
