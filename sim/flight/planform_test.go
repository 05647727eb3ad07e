package flight

import (
	"math"
	"testing"

	"drystage/sim"

	"drystage/sim/r3"
	"github.com/stretchr/testify/assert"
)

// Area and centroid of noses from their closed forms (textbook geometry): triangle, half an ellipse, half a parabola;
// a shoulder is a trapezium.
func TestPlanform(t *testing.T) {
	for _, r := range []struct {
		reason       string
		shape        sim.Shape
		area, centre float64 // of diameter times length; of the length
	}{
		{"cone", sim.Cone, 1.0 / 2, 2.0 / 3},
		{"ellipse", sim.Ellipse, math.Pi / 4, 1 - 4/(3*math.Pi)},
		{"parabola", sim.Parabola, 2.0 / 3, 3.0 / 5},
	} {
		p := stagePlanform(&sim.Stage{Length: 0.3, Diameter: 0.1, Nose: sim.Nose{Shape: r.shape, Length: 0.3}})
		assert.InEpsilon(t, r.area*0.03, p.area, 1e-5, r.reason)
		assert.InEpsilon(t, r.centre*0.3, p.first/p.area, 1e-5, r.reason)
	}
	p := stagePlanform(&sim.Stage{Length: 1, Diameter: 0.2, Transitions: []sim.Transition{{Station: 0.3, Length: 0.3, Front: 0.1, Rear: 0.2}}})
	assert.InEpsilon(t, 0.3*0.1+0.3*0.15+0.4*0.2, p.area, 1e-12, "tube, shoulder, tube")
	assert.InEpsilon(t, 0.03*0.15+0.045*(0.3+0.3*(0.1+2*0.2)/(3*0.3))+0.08*0.8, p.first, 1e-12)
	var whole planform
	for _, s := range p.parts(0) {
		area := 2 * s.cross
		whole.area += area
		whole.first += area * s.place
		whole.second += area * s.place * s.place
	}
	assert.InEpsilon(t, p.area, whole.area, 1e-12)
	assert.InEpsilon(t, p.first, whole.first, 1e-12)
	assert.InEpsilon(t, p.second, whole.second, 1e-12, "two parts have the moments of the side")
}

// Allen and Perkins, NACA Report 1048: the viscous crossflow force is eta * 1.2 * q * sin(alpha)^2 on the planform, at
// its centroid. Flat against the air it is all of the normal force. The factors eta are those of cylinders with two
// free ends (see shortCylinders).
func TestCrossflowOfAFiniteBody(t *testing.T) {
	for _, r := range []struct{ fineness, eta float64 }{
		{0.5, 0.533}, {1, 0.533}, {2, 0.567}, {5, 0.617}, {10, 0.683}, {20, 0.758}, {40, 0.817}, {80, 0.908}, {1e9, 1},
	} {
		assert.InDelta(t, r.eta, lengthFactor(r.fineness), 5e-4, "fineness %v", r.fineness)
	}
	for f := 0.5; f < 200; f *= 1.01 {
		assert.GreaterOrEqual(t, lengthFactor(f*1.01), lengthFactor(f), "a longer one has more, at %v", f)
	}
	// A cone of 0.3 m and a tube of 1 m, 0.1 m wide: planform 0.015 + 0.1 m2, mean diameter 0.115/1.3 m, fineness 14.7,
	// eta 0.683 + 0.075*log2(1.47).
	const area, eta = 0.115, 0.7250
	st := sim.Stage{Name: "a", Length: 1.3, Diameter: 0.1, Mass: 1, CG: 0.65, Nose: sim.Nose{Shape: sim.Cone, Length: 0.3}}
	f := plainFlight(1.2, &sim.Setup{Vehicle: sim.Vehicle{Stages: []sim.Stage{st}}})
	f.gravity = gravity{}
	for _, alpha := range []float64{90, 60, 20} {
		sin, cos := math.Sincos(alpha * degree)
		f.throw(r3.Vec{Z: 30 * cos, X: 30 * sin}, r3.Vec{})
		b := &f.bodies[0]
		var k vector
		b.derivative(0, &b.y, &k)
		q := 0.5 * 1.2 * 30 * 30
		slender := 2 * math.Pi / 4 * 0.01 * sin * cos // Barrowman's nose
		crossflow := eta * 1.2 * area * sin * sin
		across := math.Hypot(b.flow.force.Y, b.flow.force.Z)
		assert.InEpsilon(t, q*(slender+crossflow), across, 1e-3, "%v deg", alpha)
		centroid := (0.015*0.2 + 0.1*0.8) / area
		moment := q * (slender*(0.65-0.2) + crossflow*(0.65-centroid))
		assert.InDelta(t, math.Abs(moment), math.Hypot(k[11], k[12])*b.flow.transverse, 1e-3*q*crossflow, "%v deg", alpha)
	}
}
