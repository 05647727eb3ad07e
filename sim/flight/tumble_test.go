package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
)

// Slender-body theory: a plain tube has the slope 2 on its front area, at its front end, and nothing when it flies backwards.
func TestFlatFrontHasTheSlopeOfANose(t *testing.T) {
	f := plainFlight(1.225, &sim.Setup{Vehicle: sim.Vehicle{Stages: []sim.Stage{{Name: "a", Length: 1, Diameter: 0.1, CG: 0.5, Mass: 1}}}})
	s := f.Stability(0)
	assert.InEpsilon(t, 2*math.Pi*0.05*0.05, s.Slope, 1e-12)
	assert.Zero(t, s.CP)
	assert.InEpsilon(t, -5, s.Margin, 1e-12)

	b := &f.bodies[0]
	side := func(forward float64) (force, moment float64) { // N and N m with 1 m/s across, less that of the crossflow
		at := func(u, v float64) (float64, float64) {
			turn := b.y.rotation()
			b.y.setVec(atVelocity, turn.toWorld(r3.Vec{X: u, Y: v}))
			var k vector
			b.derivative(0, &b.y, &k)
			return b.flow.force.Y * b.flow.mass, k[12] * b.flow.transverse
		}
		y, m := at(forward, 1)
		y0, m0 := at(0, 1)
		return y - y0, m - m0
	}
	b.mode = free
	force, moment := side(100)
	want := -1.225 * math.Pi * 0.05 * 0.05 * 100 // rho/2 u v times the slope
	assert.InEpsilon(t, want, force, 1e-9)
	assert.InEpsilon(t, want*0.5, moment, 1e-9, "ahead of the centre of gravity: it turns the front away from the flow")
	force, moment = side(-100)
	assert.InDelta(t, 0, force, 1e-12)
	assert.InDelta(t, 0, moment, 1e-12)
}

// A lower stage that is heavy behind is stable below the others, but not alone: it tumbles after the separation when no
// canopy opens. It turns over and over, the flow comes from everywhere and slows it by its side. One with its mass in
// front flies on as an arrow.
func TestSeparatedStageTumbles(t *testing.T) {
	fly := func(cg float64) (stack, alone, rate, top float64, quarters [4]bool) {
		s := dunlin()
		low := &s.Vehicle.Stages[1]
		low.Recovery, low.CG = nil, cg
		f := NewIdeal(s)
		stack = f.Stability(1).Margin
		for f.at("booster.separation") < 0 {
			f.AdvanceTo(f.now + 5*millisecond)
		}
		alone = f.Stability(1).Margin
		for f.at("booster.landing") < 0 && f.now < 100*second {
			f.AdvanceTo(f.now + 5*millisecond)
			st := &f.States()[1]
			rate = max(rate, math.Sqrt(st.Rates.Y*st.Rates.Y+st.Rates.Z*st.Rates.Z))
			top = max(top, st.Position.Z)
			if st.Velocity.Z > 10 { // still climbing fast
				quarters[min(3, int(st.Alpha()*4/math.Pi))] = true
			}
		}
		return stack, alone, rate, top, quarters
	}
	stack, alone, rate, top, quarters := fly(0.36)
	assert.Greater(t, stack, 1.0, "calibres")
	assert.Less(t, alone, -0.3, "calibres")
	assert.Greater(t, rate, 2*math.Pi, "more than one turn a second")
	assert.Equal(t, [4]bool{true, true, true, true}, quarters, "the flow comes from in front, from all sides and from behind")
	_, alone, calm, higher, quarters := fly(0.24)
	assert.Greater(t, alone, 1.0, "calibres")
	assert.Less(t, calm, 0.3*rate)
	assert.Equal(t, [4]bool{true}, quarters, "from in front only")
	assert.Less(t, top, 0.8*higher, "its side brakes it")
}
