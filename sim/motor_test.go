package sim_test

import (
	"testing"

	"drystage/sim"

	"github.com/stretchr/testify/assert"
)

// The figures of curves that can be worked out by hand; the 5 % rule is from memory of NFPA 1125.
func TestMotorFigures(t *testing.T) {
	for _, r := range []struct {
		reason                               string
		curve                                []sim.ThrustPoint
		impulse, peak, burn, whole, averages float64
	}{
		{"a box", []sim.ThrustPoint{{T: 0, Thrust: 50}, {T: 2, Thrust: 50}, {T: 2, Thrust: 0}}, 100, 50, 2, 2, 50},
		{"a triangle: thrust above 5 N from 0.05 s to 1.95 s", []sim.ThrustPoint{{T: 0}, {T: 1, Thrust: 100}, {T: 2}}, 100, 100, 1.9, 2, 100 / 1.9},
		{"a long weak tail does not count", []sim.ThrustPoint{{T: 0, Thrust: 100}, {T: 1, Thrust: 100}, {T: 1, Thrust: 4}, {T: 9, Thrust: 0}}, 116, 100, 1, 9, 116},
		{"a pause in the middle does", []sim.ThrustPoint{{T: 0, Thrust: 100}, {T: 1, Thrust: 0}, {T: 2, Thrust: 0}, {T: 2, Thrust: 100}, {T: 3, Thrust: 100}, {T: 3, Thrust: 0}}, 150, 100, 3, 3, 50},
		{"no curve", nil, 0, 0, 0, 0, 0},
		{"a curve without thrust", []sim.ThrustPoint{{T: 0}, {T: 1}}, 0, 0, 0, 0, 0},
	} {
		f := (&sim.Motor{Thrust: r.curve}).Figures()
		assert.InDelta(t, r.impulse, f.Impulse, 1e-9, r.reason)
		assert.InDelta(t, r.peak, f.Peak, 1e-9, r.reason)
		assert.InDelta(t, r.burn, f.Burn.Seconds(), 1e-9, r.reason)
		assert.InDelta(t, r.whole, f.Whole.Seconds(), 1e-9, r.reason)
		assert.InDelta(t, r.averages, f.Average, 1e-6, r.reason)
	}
}
