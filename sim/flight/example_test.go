package flight_test

import (
	"fmt"

	"drystage/sim"
	"drystage/sim/flight"
)

// A dart of one kilogram whose board opens the parachute late, 12 s into the flight.
func Example() {
	f := flight.New(&sim.Setup{Vehicle: sim.Vehicle{
		Stages: []sim.Stage{{
			Name: "dart", Length: 1, Diameter: 0.054, Mass: 1, CG: 0.5, Drag: sim.Drag{Cd: 0.5},
			Nose: sim.Nose{Length: 0.15},
			Fins: []sim.Fins{{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05, Station: 0.9}},
			Mount: sim.Mount{Station: 0.8, Motor: sim.Motor{
				Propellant: 0.06, Case: 0.05, Length: 0.2, Diameter: 0.029,
				Thrust: []sim.ThrustPoint{{T: 0, Thrust: 60}, {T: 2, Thrust: 50}, {T: 2.1}},
			}},
			Recovery: []sim.Device{{Name: "main", Area: 0.6, Pulse: 20 * sim.Millisecond, Inflation: sim.Second}},
		}},
		Rail: sim.Rail{Length: 2},
		Site: sim.Site{Latitude: 0.8},
	}})
	f.AdvanceTo(12 * sim.Second)
	f.SetOutput(sim.Effect{Kind: sim.Deploy}, true)
	f.AdvanceTo(120 * sim.Second)
	for _, e := range f.Events() {
		fmt.Println(e.Name, e.At)
	}
	fmt.Println(f.Landed())
	// Output:
	// launch 0.000 s
	// dart.ignition 0.000 s
	// liftoff 0.000 s
	// rail_exit 0.302 s
	// max_q 2.070 s
	// dart.burnout 2.100 s
	// dart.apogee 9.342 s
	// apogee 9.342 s
	// dart.main 12.020 s
	// dart.landing 72.133 s
	// landing 72.133 s
	// true
}
