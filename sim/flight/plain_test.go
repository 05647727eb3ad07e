package flight

import (
	"drystage/sim"
	"drystage/sim/r3"
)

// plainFlight is a flight through air of one density, so hot that no speed comes near sound, under
// constant standard gravity, as in the closed forms.
func plainFlight(density float64, s *sim.Setup) *Flight {
	if s.Limit == 0 {
		s.Launch, s.Limit = sim.Never, 1000*sim.Second
	}
	f := New(s)
	f.gravity = gravity{ground: standardG}
	f.air = evenAir(density)
	return f
}

// evenAir has one density everywhere.
func evenAir(density float64) *Air {
	return &Air{
		layers: []airLayer{{base: -1e6, perCell: 1e-7, last: 1}},
		cells:  []airCubics{{temperature: [4]float64{1e9}, density: [4]float64{density}, pressure: [4]float64{101325}}},
	}
}

// throw starts the whole vehicle in free flight at the pad with a velocity and body rates.
func (f *Flight) throw(velocity, rates r3.Vec) {
	b := &f.bodies[0]
	f.endStepNow(b)
	b.mode, b.leftRail = free, true
	b.y.setVec(atVelocity, velocity)
	b.y.setVec(atRates, rates)
	b.emptyStep()
	f.load(b)
	f.startThresholds()
	f.liftedOff = true
	f.computeStep(b)
	f.findHorizon()
	f.statesCurrent = false
}

// at gives the time of an event in s, or -1.
func (f *Flight) at(name string) float64 {
	for _, e := range f.events {
		if e.Name == name {
			return e.At.Seconds()
		}
	}
	return -1
}

// box is a motor of constant thrust, except for the last microsecond.
func box(thrust, seconds, propellant float64) sim.Motor {
	return sim.Motor{Propellant: propellant, Length: 0.1, Diameter: 0.02, Thrust: []sim.ThrustPoint{{T: 0, Thrust: thrust}, {T: seconds, Thrust: thrust}, {T: seconds + 1e-6}}}
}
