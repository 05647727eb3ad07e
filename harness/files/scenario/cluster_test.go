package scenario

import (
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/sim"
)

// All that a vehicle file may say about motors, rail and recovery beyond the usual, in SI.
func TestClusterRailAndRecovery(t *testing.T) {
	l := &loader{fsys: os.DirFS("testdata")}
	v, _, ok := l.vehicle(l.read("more/cluster.yaml", harness.Place{}))
	require.Empty(t, l.sorted())
	require.True(t, ok)
	s := v.Stages[0]
	assert.Equal(t, sim.VonKarman, s.Nose.Shape)
	assert.Equal(t, sim.Streamlined, s.Fins[0].Profile)
	assert.True(t, s.Drag.Built)
	assert.InDelta(t, 6e-5, s.Drag.Roughness, 1e-15)
	assert.Equal(t, s.Drag, s.Stacked)
	m := s.Mount
	assert.Equal(t, 3, m.Count)
	assert.Equal(t, 0.02, m.Radius, "half the circle")
	assert.InDelta(t, 0.5*math.Pi/180, m.Misalignment.Angle, 1e-15)
	assert.InDelta(t, math.Pi/2, m.Misalignment.Clock, 1e-15)
	assert.InDelta(t, 0.1*math.Pi/180, m.Misalignment.Scatter, 1e-15)
	assert.Equal(t, []sim.Pause{{At: 200 * sim.Millisecond, For: 500 * sim.Millisecond}, {At: 600 * sim.Millisecond, For: 100 * sim.Millisecond}}, m.Pauses)
	assert.Equal(t, 0.02, m.Motor.ImpulseScatter)
	assert.Equal(t, 0.03, m.Motor.BurnScatter)
	assert.InDelta(t, 6e-5, m.Motor.ExitArea, 1e-18)
	assert.InDelta(t, 95000, m.Motor.TestPressure, 1e-9)
	d := s.Recovery[0]
	assert.InDelta(t, 0.8*math.Pi*0.36, d.Area, 1e-15)
	assert.Equal(t, []float64{1.2, 8, 2}, []float64{d.Diameter, d.Fill, float64(d.Growth)})
	assert.InDelta(t, 2000, d.Snatch.Stiffness, 1e-9, "600 N over 300 mm")
	assert.Equal(t, []float64{0.15, 12}, []float64{d.Snatch.Mass, d.Snatch.Speed})
	assert.Equal(t, [2]float64{0.45, 0.85}, v.Rail.Guides)
	assert.Equal(t, 0.1, v.Rail.Friction)
}
