package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// dropped is a rod of 1 m and 2 kg that touches the ground with a lean and a velocity.
func dropped(lean float64, v r3.Vec, canopy float64, wind float64) *Flight {
	s := dart(2, 0, 0.05, sim.Motor{})
	st := &s.Vehicle.Stages[0]
	st.Name, st.Length, st.CG, st.Inertia = "rod", 1, 0.5, sim.Inertia{Axial: 1e-3, Transverse: 2.0 / 12}
	s.Vehicle.Rail = sim.Rail{Tilt: lean, Azimuth: math.Pi / 2}
	s.Vehicle.Site.Ground = firm
	s.Wind = sim.Wind{Speed: wind, From: 1.5 * math.Pi, Height: 2, Exponent: 0}
	if canopy > 0 {
		st.Recovery = []sim.Device{{Name: "main", Area: canopy}}
	}
	f := plainFlight(1.2, s)
	f.bodies[0].shape.parts = nil
	f.throw(v, r3.Vec{})
	if canopy > 0 {
		f.SetOutput(drogue, true)
	}
	return f
}

// The ground stops a body as a spring that gives nothing back: speed times sqrt(k/m) at the peak, and all of the
// momentum (textbook results).
func TestImpact(t *testing.T) {
	f := dropped(0, r3.Vec{X: 1, Z: -6}, 0, 0)
	f.AdvanceTo(0)
	length := math.Pi / 2 * math.Sqrt(2.0/50000)
	f.AdvanceTo(sim.Seconds(length / 2))
	st := f.States()[0]
	require.True(t, st.Landed)
	assert.InEpsilon(t, 6*math.Sqrt(50000/2.0)+standardG, st.Force.X, 1e-3, "felt at the peak, with the weight")
	f.AdvanceTo(sim.Seconds(length) + 1)
	st = f.States()[0]
	assert.InDelta(t, 0, r3.Norm(st.Velocity), 1e-6, "stopped")
	assert.InDelta(t, 6, f.Shocks()[0].Velocity.X, 1e-6)
	assert.Less(t, st.Position.Z, 0.0, "a little way into the ground")
	assert.Greater(t, st.Position.Z, -0.06)
	assert.Equal(t, 1, len(f.Summary().Landings))
}

// A rod caught at its end turns about it with 3 v sin(lean)/(2 L); then it falls as a rod on a hinge does: the energy
// gives w^2 = w0^2 + 3 g (cos(lean) - cos(now))/L (textbook results).
func TestFallsOver(t *testing.T) {
	lean := 10 * degree
	f := dropped(lean, r3.Vec{Z: -4}, 0, 0)
	f.AdvanceTo(10 * millisecond)
	first := f.States()[0]
	w0 := 3 * 4 * math.Sin(lean) / 2
	assert.InDelta(t, w0, r3.Norm(first.Rates), 0.05)
	for f.States()[0].Tilt() < 80*degree {
		f.AdvanceTo(f.now + millisecond)
	}
	st := f.States()[0]
	w := r3.Norm(first.Rates)
	want := math.Sqrt(w*w + 3*standardG*(math.Cos(first.Tilt())-math.Cos(st.Tilt())))
	assert.InEpsilon(t, want, r3.Norm(st.Rates), 1e-5)
	f.AdvanceTo(f.now + 2*second)
	st = f.States()[0]
	assert.InDelta(t, 90*degree, st.Tilt(), 2*degree, "on its side")
	assert.InDelta(t, 0, st.Force.X, 0.4, "the long axis feels nothing")
	assert.InDelta(t, standardG, r3.Norm(st.Force), 1e-9, "one g across")
	assert.Zero(t, r3.Norm(st.Velocity)+r3.Norm(st.Rates))
	assert.Equal(t, landed, f.bodies[0].mode, "and at rest")
}

// However it comes down, it ends on its side.
func TestEndsOnItsSide(t *testing.T) {
	for _, r := range []struct {
		reason string
		lean   float64
		v      r3.Vec
	}{
		{"upright", 0, r3.Vec{Z: -5}},
		{"nose first", 175 * degree, r3.Vec{Z: -60}},
		{"flat", 90 * degree, r3.Vec{Z: -20}},
		{"nearly flat", 88 * degree, r3.Vec{Z: -20}},
		{"drifting", 20 * degree, r3.Vec{X: 6, Y: 2, Z: -4}},
	} {
		f := dropped(r.lean, r.v, 0, 0)
		f.AdvanceTo(20 * second)
		st := f.States()[0]
		assert.InDelta(t, 90*degree, st.Tilt(), 6*degree, r.reason)
		assert.Equal(t, landed, f.bodies[0].mode, r.reason)
		assert.InDelta(t, standardG, r3.Norm(st.Force), 1e-9, r.reason)
	}
}

// Wind in an open canopy drags a body when the pull is larger than friction; the terminal speed is the wind's less
// that at which both are equal.
func TestDragged(t *testing.T) {
	for _, r := range []struct {
		reason string
		wind   float64
		moves  bool
	}{{"light wind", 4, false}, {"strong wind", 9, true}} {
		f := dropped(10*degree, r3.Vec{X: r.wind / 2, Z: -5}, 1.5, r.wind)
		f.AdvanceTo(20 * second)
		st := f.States()[0]
		assert.True(t, st.Landed)
		if !r.moves {
			assert.Zero(t, r3.Norm(st.Velocity), r.reason)
			continue
		}
		slip := math.Sqrt(0.5 * 2 * standardG / (0.5 * 1.2 * 1.5 * canopyCatches))
		assert.InDelta(t, r.wind-slip, st.Velocity.X, 1e-3, r.reason)
		assert.InDelta(t, 90*degree, st.Tilt(), 2*degree, "on its side")
		assert.Equal(t, 1, len(f.Summary().Landings), "one landing")
	}
}
