package flight

import (
	"math"

	"drystage/sim"
)

const degree = math.Pi / 180

// alder and rowan are invented motors.
var (
	alder = sim.Motor{Name: "Alder", Propellant: 0.046, Case: 0.06, Length: 0.124, Diameter: 0.029, Thrust: []sim.ThrustPoint{
		{T: 0, Thrust: 0}, {T: 0.04, Thrust: 54}, {T: 0.15, Thrust: 68}, {T: 0.5, Thrust: 64}, {T: 1.0, Thrust: 55}, {T: 1.35, Thrust: 44}, {T: 1.5, Thrust: 13}, {T: 1.6, Thrust: 0},
	}}
	rowan = sim.Motor{Name: "Rowan", Propellant: 0.098, Case: 0.102, Length: 0.187, Diameter: 0.029, Thrust: []sim.ThrustPoint{
		{T: 0, Thrust: 0}, {T: 0.03, Thrust: 108}, {T: 0.12, Thrust: 130}, {T: 0.5, Thrust: 118}, {T: 1.0, Thrust: 104}, {T: 1.6, Thrust: 80}, {T: 1.85, Thrust: 28}, {T: 2.0, Thrust: 0},
	}}
)

// dunlin is the two-stage model of the plausibility test: about 1.5 kg, 54 mm.
func dunlin() *sim.Setup {
	return &sim.Setup{
		Seed: 1,
		Vehicle: sim.Vehicle{
			Name: "Dunlin",
			Stages: []sim.Stage{
				{
					Name: "sustainer", Length: 0.78, Diameter: 0.054, Mass: 0.64, CG: 0.39,
					Inertia: sim.Inertia{Axial: 2.8e-4, Transverse: 3.0e-2},
					Nose:    sim.Nose{Shape: sim.Ogive, Length: 0.16},
					Fins:    []sim.Fins{{Count: 3, Root: 0.09, Tip: 0.045, Span: 0.055, Sweep: 0.045, Thickness: 0.003, Station: 0.685}},
					Drag:    sim.Drag{Cd: 0.55},
					Mount: sim.Mount{Motor: alder, Station: 0.656, Igniter: sim.Igniter{Pulse: 20 * sim.Millisecond, Delay: 150 * sim.Millisecond, Scatter: 20 * sim.Millisecond},
						Lit: sim.Anchor{Event: "booster.burnout", Offset: 2 * sim.Second}},
					Recovery: []sim.Device{
						{Name: "drogue", Area: 0.08, Delay: 100 * sim.Millisecond, Pulse: 20 * sim.Millisecond, Inflation: 300 * sim.Millisecond, Opens: sim.Anchor{Event: "apogee", Offset: 500 * sim.Millisecond}},
						{Name: "main", Area: 0.7540, Delay: 100 * sim.Millisecond, Pulse: 20 * sim.Millisecond, Inflation: 800 * sim.Millisecond, Opens: sim.Anchor{Event: "sustainer height falling through 150 m"}},
					},
				},
				{
					Name: "booster", Length: 0.46, Diameter: 0.054, Mass: 0.55, CG: 0.24,
					Inertia:    sim.Inertia{Axial: 3.2e-4, Transverse: 1.1e-2},
					Fins:       []sim.Fins{{Count: 3, Root: 0.11, Tip: 0.055, Span: 0.075, Sweep: 0.055, Thickness: 0.003, Station: 0.345}},
					Drag:       sim.Drag{Cd: 0.9},
					Stacked:    sim.Drag{Cd: 0.7},
					Mount:      sim.Mount{Motor: rowan, Station: 0.273, Igniter: sim.Igniter{Pulse: 20 * sim.Millisecond, Delay: 150 * sim.Millisecond, Scatter: 20 * sim.Millisecond}},
					Separation: sim.Separation{Mode: sim.ByDrag, Delay: 300 * sim.Millisecond, Speed: 1},
					Recovery: []sim.Device{
						{Name: "streamer", Area: 0.25, Delay: 100 * sim.Millisecond, Pulse: 20 * sim.Millisecond, Inflation: 300 * sim.Millisecond, Opens: sim.Anchor{Event: "booster.apogee", Offset: 500 * sim.Millisecond}},
					},
				},
			},
			Rail: sim.Rail{Length: 2, Tilt: 3 * degree},
			Site: sim.Site{Latitude: 47.1 * degree, Longitude: 8.5 * degree, Elevation: 450, Temperature: 288.15, Pressure: 96000},
		},
		Wind:   sim.Wind{Speed: 3, From: 270 * degree, Height: 10, Exponent: 0.143},
		Launch: 5 * sim.Second,
		Limit:  300 * sim.Second,
		Crossings: []sim.Crossing{
			{Name: "sustainer height falling through 150 m", Stage: 0, Quantity: sim.Height, Falling: true, Value: 150},
		},
	}
}
