package flight

import (
	"math"
	"testing"

	"drystage/sim"

	"drystage/sim/r3"
	"github.com/stretchr/testify/assert"
)

// nozzled is a dart at a height in the standard atmosphere, with a motor of 500 N for 2 s and then 40 N for 1 s, whose
// nozzle has an exit area in m2.
func nozzled(height, exit, tested float64) *Flight {
	m := sim.Motor{Propellant: 0.5, Length: 0.1, Diameter: 0.05, ExitArea: exit, TestPressure: tested, Thrust: []sim.ThrustPoint{
		{T: 0, Thrust: 500}, {T: 2, Thrust: 500}, {T: 2.000001, Thrust: 40}, {T: 3, Thrust: 40}, {T: 3.000001}}}
	s := dart(2, 0, 0.1, m)
	s.Vehicle.Stages[0].Mount.Station = 0.9
	s.Launch, s.Limit = sim.Never, 100*sim.Second
	f := New(s)
	f.bodies[0].y[2] = height
	f.throw(r3.Vec{}, r3.Vec{})
	f.ignite(0, allMotors)
	f.computeStep(&f.bodies[0])
	f.findHorizon()
	return f
}

// F = curve + exit area * (test pressure - pressure): Sutton, Rocket Propulsion Elements, from memory. Pressures as the
// tables of ISO 2533:1975 print them.
func TestThrustGrowsAsTheAirThins(t *testing.T) {
	for _, r := range []struct {
		reason                       string
		height, exit, tested, thrust float64
	}{
		{"no nozzle given: the curve's", 10000, 0, 0, 500},
		{"as tested", 0, 5e-4, 0, 500},
		{"2 km", 2000, 5e-4, 0, 500 + 5e-4*(101325-79501.4)},
		{"10 km", 10000, 5e-4, 0, 500 + 5e-4*(101325-26499.9)},
		{"20 km", 20000, 5e-4, 0, 500 + 5e-4*(101325-5529.29)},
		{"tested in thin air, flown at the sea", 0, 5e-4, 80000, 500 - 5e-4*(101325-80000)},
	} {
		st := nozzled(r.height, r.exit, r.tested).States()[0]
		assert.InDelta(t, r.thrust, st.Thrust, 1e-3, r.reason)
		assert.InDelta(t, r.thrust/st.Mass, st.Force.X, 1e-3, "%s: and felt", r.reason)
	}
	f := nozzled(10000, 5e-4, 0)
	f.AdvanceTo(2500 * millisecond)
	st := &f.States()[0]
	assert.InEpsilon(t, 40*(1+(101325-st.Pressure)/101325), st.Thrust, 1e-9, "a nozzle that doesn't flow full: at most twice the curve, in a vacuum")
	f.AdvanceTo(3100 * millisecond)
	assert.Zero(t, f.States()[0].Thrust, "nothing after the burn")
	assert.InDelta(t, 2, f.States()[0].Mass, 1e-9, "the propellant burns as the curve says")
}

// The speed gained in a vacuum: (impulse of the curve + exit area * test pressure * burn time)/impulse times the curve's,
// by Tsiolkovsky with the exhaust speed (F + A p)/m'.
func TestVacuumImpulse(t *testing.T) {
	m := box(500, 2, 0.5)
	m.ExitArea = 4e-4
	s := dart(2, 0, 0.1, m)
	f := plainFlight(0, s)
	f.gravity = gravity{}
	f.air.cells[0].pressure = [4]float64{}
	f.throw(r3.Vec{}, r3.Vec{})
	f.ignite(0, allMotors)
	f.computeStep(&f.bodies[0])
	f.findHorizon()
	f.AdvanceTo(2100 * millisecond)
	exhaust := (500 + 4e-4*101325) / (0.5 / 2)
	assert.InEpsilon(t, exhaust*math.Log(2.5/2), f.States()[0].Velocity.Z, 1e-6)
}

// A thrust line that is turned turns the gain with it.
func TestPressureGainFollowsTheNozzle(t *testing.T) {
	s := cluster(1)
	s.Vehicle.Stages[0].Mount.Misalignment = sim.Misalignment{Angle: 2 * degree, Clock: 90 * degree}
	m := &s.Vehicle.Stages[0].Mount.Motor
	s.Launch, m.Propellant, m.ExitArea = 1, 0, 1e-4 // without jet damping
	f := plainFlight(0, s)
	f.air.cells[0].pressure = [4]float64{41325}
	f.bodies[0].rail.length = 1e-9
	f.AdvanceTo(5 * millisecond)
	st := &f.States()[0]
	assert.InEpsilon(t, 26*math.Sin(2*degree)*(1-st.CG), st.Angular.Y*f.bodies[0].flow.transverse, 1e-6, "20 N and 1 cm2 at 60 kPa less")
	assert.InEpsilon(t, 26*math.Sin(2*degree)/st.Mass, st.Force.Z, 1e-6)
	assert.InEpsilon(t, 26*math.Cos(2*degree)/st.Mass, st.Force.X, 1e-6)
}
