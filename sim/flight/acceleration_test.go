package flight

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
	"drystage/sim/r3"
)

// Second path: the curves of acceleration against a whole evaluation of the derivative at the same state. What an
// accelerometer 1 m from the centre of gravity would feel of the difference is below the 1 mm/s2 that the contract
// tells a board in, and the curves are there for most of the flight.
func TestAccelerationCurves(t *testing.T) {
	for _, r := range []struct {
		reason string
		setup  func(s *sim.Setup)
	}{
		{"calm", func(s *sim.Setup) {}},
		{"a wind that grows with height", func(s *sim.Setup) { s.Wind = sim.Wind{Speed: 6, Exponent: 0.2} }},
		{"rough air", func(s *sim.Setup) { s.Wind = sim.Wind{Speed: 8, Exponent: 0.2, Turbulence: sim.Turbulence{On: true}} }},
		{"winds aloft, with kinks", func(s *sim.Setup) {
			s.Wind = sim.Wind{Aloft: []sim.WindLevel{{Height: 10, Speed: 2}, {Height: 100, Speed: 9, From: 1}, {Height: 300, Speed: 4, From: 3}}}
		}},
		{"a gust", func(s *sim.Setup) {
			s.Wind = sim.Wind{Speed: 3, Gusts: []sim.Gust{{Base: 50, Length: 60, Peak: 8, From: 1}}}
		}},
		{"the lower stage alone, which tumbles", func(s *sim.Setup) { s.Vehicle.Stages[1].Recovery = nil }},
	} {
		s := dunlin()
		r.setup(s)
		f := NewIdeal(s)
		var curve, all int
		var force, angular float64
		for !f.Landed() && f.now < 100*second {
			f.AdvanceTo(f.now + 5*millisecond)
			for i := range f.bodies {
				b := &f.bodies[i]
				if b.mode != free {
					continue
				}
				all++
				var st sim.State
				b.fillState(b.fraction(f.now), &st)
				if !b.acceleration.valid {
					continue
				}
				curve++
				var y, k vector
				b.interpolate(b.fraction(f.now), &y)
				y.normalise()
				b.derivative(b.secondsAt(b.fraction(f.now)), &y, &k)
				force = math.Max(force, r3.Norm(r3.Sub(b.flow.force, st.Force)))
				angular = math.Max(angular, r3.Norm(r3.Sub(k.vec(atRates), st.Angular)))
			}
		}
		t.Logf("%s: %.3g m/s2, %.3g rad/s2, %d of %d", r.reason, force, angular, curve, all)
		assert.Less(t, force, 5e-4, r.reason)
		assert.Less(t, angular, 1e-3, r.reason)
		assert.Greater(t, 2*curve, all, r.reason)
	}
}
