package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// Summary holds the results of a flight so far.
type Summary struct {
	Rows     []Row // one per event, in order of time
	Exit     Exit
	Extremes Extremes
	Baro     Barometer
	Openings []Opening // in order of line stretch
	Drifts   []Drift   // in order of line stretch
	Landings []Landing // in order of time
	Motors   []Burn    // of ignited motors, stage by stage
	Warnings []sim.Warning
	Solver   Solver
}

// Row is one line of an event table: an event and the motion of its body at that time.
type Row struct {
	sim.Event
	Stage    int // a stage of that body; 0 for events of the whole flight
	Height   float64
	Speed    float64 // m/s over the ground
	Climb    float64 // m/s, upwards
	Airspeed float64 // m/s
	Mach     float64
	Dynamic  float64 // Pa
	Tilt     float64 // rad
	Alpha    float64 // rad
}

// Exit is how the rocket leaves the rail; Left is false while it hasn't.
type Exit struct {
	Left         bool
	At           sim.Time
	Speed        float64 // m/s over the ground
	Airspeed     float64 // m/s
	Alpha        float64 // rad, angle of attack
	Tilt         float64 // rad off vertical
	Rate         float64 // rad/s, pitch and yaw together, caused by tip-off
	Stability    Stability
	ThrustWeight float64 // thrust over weight
}

// Extremes holds the greatest and least values of the body with the nose, from liftoff to its apogee.
type Extremes struct {
	Height, Speed, Mach, Dynamic   float64 // m, m/s, -, Pa
	HeightAt, SpeedAt, MachAt, QAt sim.Time
	Acceleration                   float64 // m/s2, specific force, at the ends of the integrator's steps
	Margin                         float64 // calibres, the least while dynamic pressure is above 100 Pa; NaN: it never was
	AccelerationAt, MarginAt       sim.Time
}

// Opening is the opening of one recovery device.
type Opening struct {
	Stage, Device int
	At            sim.Time // line stretch
	Speed         float64  // m/s through the air, at line stretch
	Dynamic       float64  // Pa, at line stretch
	Filling       sim.Time // from line stretch until fully open
	Load          float64  // N, the greatest drag of the device until then, or in its overshoot
	LoadAt        sim.Time
	Snatch        float64 // N, the pull of the lines at line stretch; 0 when the device has none
}

// Drift is how far a body moves over the ground below a device: from its line stretch to that of the next
// device, to the landing, or to the present.
type Drift struct {
	Stage, Device int
	From, Until   sim.Time
	East, North   float64 // m
}

// Landing is the state of a body when it touches the ground.
type Landing struct {
	Top, Low    int // its stages
	At          sim.Time
	East, North float64 // m from the base of the rail
	Bearing     float64 // rad clockwise from north
	Distance    float64 // m
	Speed       float64 // m/s over the ground
	Descent     float64 // m/s, downwards
	Mass        float64 // kg
	Energy      float64 // J, kinetic, of the whole body with all that hangs on its lines
}

// Burn is the burn of one motor, with the random scatter of this run.
type Burn struct {
	Stage, Motor int // the motor of a cluster, counted from 0
	Lit          sim.Time
	Impulse      float64  // N s, of the whole curve
	Time         sim.Time // of the whole curve, pauses included
	Peak         float64  // N
	Average      float64  // N
}

// Solver tells how the equations were solved: by a Runge-Kutta pair of orders 5 and 4. The error of a step in
// each component is below Tolerance times its size (or times 50 m, 50 m/s, 1, 200 rad/s where it is smaller).
// A step ends at each point of a thrust curve and where the Mach number passes a row of a drag table.
type Solver struct {
	Tolerance   float64
	Steps       int // taken
	Rejected    int // tried again with a shorter step
	Forced      int // accepted at the shortest length in spite of too large an error
	Evaluations int // of the equations of motion, in steps
}

// Summary gives the results so far. It allocates; it doesn't change the flight.
func (f *Flight) Summary() Summary {
	s := Summary{
		Rows: append([]Row(nil), f.record.rows...), Exit: f.record.exit, Extremes: f.record.extremes(), Baro: f.barometer(), Openings: append([]Opening(nil), f.record.openings...),
		Drifts: f.drifts(), Landings: append([]Landing(nil), f.record.landings...), Warnings: f.Warnings(), Solver: f.solver,
	}
	s.Solver.Tolerance = f.tolerance
	for i := range f.stages {
		for k := range f.stages[i].motors {
			if m := &f.stages[i].motors[k]; m.ignited {
				s.Motors = append(s.Motors, m.figures(i, k))
			}
		}
	}
	return s
}

func (m *motor) figures(stage, which int) Burn {
	n := len(m.curve.at) - 1
	b := Burn{Stage: stage, Motor: which, Lit: m.ignitedAt, Impulse: m.curve.impulse[n], Time: m.curve.at[n]}
	for _, t := range m.curve.thrust {
		b.Peak = max(b.Peak, t)
	}
	b.Average = b.Impulse / b.Time.Seconds()
	return b
}

// drifts computes the drift of each body from one line stretch to the next.
func (f *Flight) drifts() []Drift {
	var out []Drift
	for i, o := range f.record.openings {
		b := f.bodyOf(o.Stage)
		d := Drift{Stage: o.Stage, Device: o.Device, From: o.At, Until: f.now}
		var y vector
		b.vectorAt(f.now, &y)
		end := y.vec(atPosition)
		for _, l := range f.record.landings {
			if l.Top <= o.Stage && o.Stage <= l.Low {
				d.Until = l.At
			}
		}
		for k := len(f.record.openings) - 1; k > i; k-- {
			if n := &f.record.openings[k]; b == f.bodyOf(n.Stage) && n.At > o.At {
				d.Until, end = n.At, f.record.openingPlaces[k]
			}
		}
		start := f.record.openingPlaces[i]
		d.East, d.North = end.X-start.X, end.Y-start.Y
		out = append(out, d)
	}
	return out
}

// landing gives a body's landing, when it touches the ground.
func (b *body) landing(at sim.Time) Landing {
	var p massProperties
	b.massProperties(0, &p)
	place, v := b.y.vec(atPosition), b.y.vec(atVelocity)
	l := Landing{
		Top: b.top, Low: b.low, At: at, East: place.X, North: place.Y, Descent: -v.Z, Mass: p.mass,
		Distance: math.Sqrt(float64(place.X*place.X) + float64(place.Y*place.Y)), Speed: math.Sqrt(dot(v, v)),
		Bearing: plain.Atan2(place.X, place.Y),
	}
	if l.Bearing < 0 {
		l.Bearing += 2 * math.Pi
	}
	l.Energy = 0.5 * l.Mass * float64(l.Speed*l.Speed)
	return l
}
