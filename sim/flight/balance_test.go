package flight

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
)

// What is told of a vehicle at rest is what flies: before the launch, and of the upper stage by hand.
func TestBalanceIsThatOfTheFlight(t *testing.T) {
	v := sim.Vehicle{Stages: []sim.Stage{
		{Name: "top", Length: 0.8, Diameter: 0.054, Mass: 0.64, CG: 0.39, Nose: sim.Nose{Length: 0.16}, Fins: []sim.Fins{{Count: 3, Root: 0.09, Tip: 0.045, Span: 0.055, Sweep: 0.045, Station: 0.7}},
			Mount: sim.Mount{Station: 0.65, Motor: sim.Motor{Thrust: []sim.ThrustPoint{{T: 0, Thrust: 50}, {T: 1, Thrust: 0}}, Propellant: 0.1, Case: 0.06, Length: 0.12, Diameter: 0.029}}},
		{Name: "low", Length: 0.46, Diameter: 0.054, Mass: 0.55, CG: 0.24, Fins: []sim.Fins{{Count: 3, Root: 0.11, Tip: 0.055, Span: 0.075, Sweep: 0.055, Station: 0.345}},
			Mount: sim.Mount{Station: 0.27, Count: 3, Radius: 0.015, Motor: sim.Motor{Thrust: []sim.ThrustPoint{{T: 0, Thrust: 90}, {T: 1, Thrust: 0}}, Propellant: 0.05, Case: 0.04, Length: 0.18, Diameter: 0.024}}},
	}}
	f := New(&sim.Setup{Vehicle: v, Launch: sim.Second, Limit: 60 * sim.Second})
	mass, s := Balance(&v, 0, 1, false)
	assert.InDelta(t, f.States()[0].Mass, mass, 1e-12)
	assert.InDelta(t, f.States()[0].CG, s.CG, 1e-12)
	assert.InDelta(t, f.Stability(0).CP, s.CP, 1e-9)
	assert.InDelta(t, f.Stability(0).Margin, s.Margin, 1e-9)

	mass, s = Balance(&v, 0, 0, true)
	assert.InDelta(t, 0.64+0.06, mass, 1e-12)
	assert.InDelta(t, (0.64*0.39+0.06*(0.65+0.06))/0.7, s.CG, 1e-12, "the propellant is gone, the case is not")
	mass, _ = Balance(&v, 0, 1, true)
	assert.InDelta(t, 0.64+0.06+0.1+0.55+3*0.04, mass, 1e-12)
}

// An outline begins and ends where the stage does, runs backwards, and is as wide as the stage.
func TestOutlineOfStages(t *testing.T) {
	for _, st := range []sim.Stage{
		{Length: 0.8, Diameter: 0.05, Nose: sim.Nose{Length: 0.2}},
		{Length: 0.8, Diameter: 0.05, Nose: sim.Nose{Shape: sim.VonKarman, Length: 0.2}, Transitions: []sim.Transition{{Station: 0.7, Length: 0.1, Front: 0.05, Rear: 0.03}}},
		{Length: 0.5, Diameter: 0.076, Transitions: []sim.Transition{{Length: 0.07, Front: 0.054, Rear: 0.076}}},
	} {
		points, most := Outline(&st), 0.0
		assert.Zero(t, points[0][0])
		assert.InDelta(t, st.Length, points[len(points)-1][0], 1e-12)
		for i, p := range points {
			assert.True(t, i == 0 || p[0] >= points[i-1][0]-1e-12)
			most = max(most, p[1])
		}
		assert.InDelta(t, st.Diameter/2, most, 1e-9)
	}
}
