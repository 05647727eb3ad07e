package sim

import "drystage/sim/r3"

// Vehicle is a rocket, all in SI. Stages are listed from top to bottom: Stages[0] has the nose, the motor of the
// last one lifts the rocket off.
//
// Body axes: x to the nose, y left, z back, seen by someone facing the rocket on its pad; the origin is the centre of
// gravity. World axes: x east, y north, z up where the rocket is, origin at the base of the rail: x and y are distances
// over the ground at the pad's elevation. Positions along the rocket ("stations")
// are metres aft of the front end of their own stage.
type Vehicle struct {
	Name   string
	Stages []Stage
	Rail   Rail
	Site   Site

	Vibration Vibration
}

// MaxStages is the most stages a vehicle may have.
const MaxStages = 4

// Stage is one section that can fly by itself.
type Stage struct {
	Name     string
	Length   float64 // m, front end to rear end
	Diameter float64 // m, largest
	Mass     float64 // kg, without motor
	CG       float64 // m aft of the front end, without motor
	// Inertia about the stage's own centre of gravity, without motor.
	Inertia     Inertia
	Nose        Nose         // Length 0: no nose, a blunt front
	Transitions []Transition // shoulders and boat-tails
	Fins        []Fins
	Drag        Drag // the stage flying alone
	Stacked     Drag // this stage as the lowest, joined to all stages above it
	Mount       Mount
	Separation  Separation // how it separates from the stage above; unused for Stages[0]
	Recovery    []Device
}

// Inertia holds moments of inertia in kg m2; Estimated says that they were computed from a solid
// cylinder of the stage's size, not measured.
type Inertia struct {
	Axial, Transverse float64
	Estimated         bool
}

// Shape names a nose shape.
type Shape uint8

// The nose shapes whose centre of pressure is known.
const (
	Ogive Shape = iota
	Cone
	Parabola
	Ellipse
	VonKarman // the Haack series' shape of least drag for its length and diameter
)

// Nose is the nose of a stage. Diameter is that of its base; 0: the stage's diameter.
type Nose struct {
	Shape            Shape
	Length, Diameter float64 // m
}

// Transition is a conical change of diameter.
type Transition struct {
	Station     float64 // m, its front
	Length      float64 // m
	Front, Rear float64 // m, diameters
}

// Fins is one set of equal trapezoidal fins.
type Fins struct {
	Count     int
	Root      float64 // m, chord at the body
	Tip       float64 // m, chord at the tip
	Span      float64 // m, body surface to tip
	Sweep     float64 // m, root leading edge to tip leading edge, along the body
	Thickness float64 // m
	Station   float64 // m, root leading edge
	Cant      float64 // rad, all fins alike
	Profile   Profile // its section; used by the drag buildup only
}

// Profile is the section of a fin along the body.
type Profile uint8

// The sections.
const (
	SquareEdges  Profile = iota // flat, square edges
	RoundedEdges                // flat, leading edge rounded, trailing edge square
	Streamlined                 // sharp or rounded in front, tapered to a thin trailing edge
)

// Drag is a drag coefficient on the largest cross-section. Points, if any, rise in Mach and are joined by straight
// lines, constant outside; otherwise Cd is valid at every Mach number. Built drag is computed from the shape
// instead, with a surface Roughness in m.
type Drag struct {
	Cd        float64
	Points    []DragPoint
	Built     bool
	Roughness float64
	Scale     float64 `json:",omitzero"` // factor on the drag in any case; 0 means 1
}

// Factor gives the factor on the coefficient.
func (d *Drag) Factor() float64 {
	if d.Scale == 0 {
		return 1
	}
	return d.Scale
}

// DragPoint is one row of a table of Cd against Mach number. PowerOn is the coefficient while a motor of
// the body burns; 0: the same.
type DragPoint struct{ Mach, Cd, PowerOn float64 }

// Motor is a solid motor by its thrust curve.
type Motor struct {
	Name       string
	Thrust     []ThrustPoint // time rising, last thrust 0; joined by straight lines
	Propellant float64       // kg, burnt in proportion to impulse
	Case       float64       // kg, all that stays
	Length     float64       // m
	Diameter   float64       // m
	// The scatter of a batch: relative standard deviations of total impulse and burn time, drawn once a run
	// for each motor. The propellant's mass has no scatter.
	ImpulseScatter, BurnScatter float64
	// ExitArea (m2) of the nozzle, by which the thrust grows as the air thins; 0: it doesn't. TestPressure (Pa) is that
	// of the air in which the curve was measured; 0: StandardPressure.
	ExitArea     float64 `json:",omitzero"`
	TestPressure float64 `json:",omitzero"`
}

// StandardPressure is the air pressure in Pa at sea level of the US Standard Atmosphere 1976.
const StandardPressure = 101325.0

// MeasuredAt gives the air pressure in Pa in which the thrust curve was measured.
func (m *Motor) MeasuredAt() float64 {
	if m.TestPressure > 0 {
		return m.TestPressure
	}
	return StandardPressure
}

// ThrustPoint is one row of a thrust curve: seconds since ignition, newtons.
type ThrustPoint struct{ T, Thrust float64 }

// Mount is a motor in its stage; a Motor without thrust points is an empty mount.
type Mount struct {
	Motor   Motor
	Station float64 // m, front end of the motor
	Igniter Igniter
	// Count motors of the kind are evenly spaced on a circle of Radius (m) about the axis, the first on the
	// body's y axis. One igniter output fires them all, each after its own delay. 0 and 1: one motor, on the
	// axis.
	Count        int
	Radius       float64
	Misalignment Misalignment
	Pauses       []Pause // of a motor that chuffs, in order
	// Lit is the intended time of ignition. Only ideal flights and rehearsals use it.
	Lit Anchor
}

// MaxCluster is the most motors of one mount.
const MaxCluster = 12

// Motors is the number of motors of the mount, at least one.
func (m *Mount) Motors() int { return max(1, m.Count) }

// Misalignment is the angle between the line of thrust and the body's axis, at the nozzle: a fixed Angle towards
// Clock (both rad; Clock counts from the body's y axis to its z axis), and a random part with standard deviation
// Scatter (rad) in each of the two directions, drawn once a run for each motor.
type Misalignment struct{ Angle, Clock, Scatter float64 }

// Pause is a pause in the burn of a chuffing motor: At after its ignition, not counting earlier pauses, for a time
// of For. Then the motor goes on where it stopped.
type Pause struct{ At, For Time }

// Igniter needs current for Pulse and ignites its motor Delay later. Scatter is the standard deviation of the delay,
// drawn once a run.
type Igniter struct{ Pulse, Delay, Scatter Time }

// Separation is how a stage separates from the one above it. In any mode, ignition of the upper motor separates
// stages that are still joined.
type Separation struct {
	Mode  SeparationMode
	Delay Time    // by drag, by gap: after this stage's burnout; by charge: from the output to the separation
	Speed float64 // m/s, relative speed of the two bodies
	Shock Pyroshock
}

// SeparationMode says what separates two stages.
type SeparationMode uint8

// The modes.
const (
	ByDrag   SeparationMode = iota // the lower stage has more drag and separates after its burnout
	ByCharge                       // an output of a board fires a charge
	ByMotor                        // held until the upper motor ignites
	// ByGap: at its burnout this stage's motor burns through and ignites the upper motor across the gap, Delay
	// later and without any board; that separates the stages. A motor that stops early doesn't burn through.
	ByGap
)

// Device is a parachute or streamer.
type Device struct {
	Name      string
	Area      float64 // m2, drag area Cd*S fully open
	Diameter  float64 // m, of the flat canopy; only Fill needs it
	Delay     Time    // from output to line stretch
	Pulse     Time    // least time that the output must be on to fire the charge
	Inflation Time    // from line stretch to fully open; with Fill it is computed instead
	// Fill is Knacke's canopy fill constant: it is open after Fill diameters of travel at the speed of line
	// stretch (about 8 for a flat circular canopy of solid cloth). Growth is the power of time with which the
	// drag area grows: 1 for slotted canopies, 2 for solid cloth; 0: a smooth cubic.
	Fill   float64
	Growth int
	// OpeningForce is the greatest drag area, just after it is full, over Area: Knacke's opening force coefficient for
	// infinite mass; 0 means 1, no overshoot.
	OpeningForce float64 `json:",omitzero"`
	Snatch       Snatch
	Shock        Pyroshock // of its charge, which throws the pack of Snatch off
	Swing        Swing
	// Rated is the greatest airspeed in m/s at which it may be opened; 0: DefaultRated.
	Rated float64 `json:",omitzero"`
	// Opens is the intended time of opening. Only ideal flights and rehearsals use it.
	Opens Anchor
}

// Overshoot gives the greatest drag area over Area.
func (d *Device) Overshoot() float64 { return max(1, d.OpeningForce) }

// Swing is the unsteadiness of a canopy in still air, drawn from the seed.
type Swing struct {
	Angle float64 // rad, rms lean of canopy and body about the canopy, in each of two directions
	Lines float64 // m, from the canopy to the body's centre of gravity: the length of that pendulum
	Spin  float64 // rad/s, one standard deviation of the rate at which the body turns on its lines
	Shake float64 // rms share by which the drag changes as vortices leave the canopy
}

// DefaultRated is the rated speed in m/s of a recovery device that gives none. Common practice, no source.
const DefaultRated = 60.0

// SafeSpeed is the greatest airspeed in m/s at which it may be opened.
func (d *Device) SafeSpeed() float64 {
	if d.Rated > 0 {
		return d.Rated
	}
	return DefaultRated
}

// Snatch is the force on the body at line stretch, when the lines bring the packed canopy, of Mass (kg), ejected at
// Speed (m/s), to the body's speed. The lines are a spring of Stiffness (N/m) that doesn't spring back. If any of the
// three is 0, there is no snatch.
type Snatch struct{ Mass, Speed, Stiffness float64 }

// Rail is the launch rail.
type Rail struct {
	Length  float64 // m, travel until the rocket is free
	Tilt    float64 // rad from vertical
	Azimuth float64 // rad clockwise from north, the direction of the tilt
	// Friction is the coefficient of friction: braking force over force normal to the rail.
	Friction float64
	// Guides are the rocket's two rail guides (buttons or lugs), in m aft of the nose's tip, the fore one first.
	// The fore one leaves the rail first. Until the aft one leaves, the rocket can turn about it: that is
	// tip-off. Equal guides: no tip-off.
	Guides [2]float64
}

// Site is the position of the rail and the weather at the pad.
type Site struct {
	Latitude, Longitude float64 // rad
	Elevation           float64 // m above mean sea level
	Geoid               float64 // m, of mean sea level above the WGS 84 ellipsoid
	Temperature         float64 // K at the pad
	Pressure            float64 // Pa at the pad (station pressure, not reduced to sea level)
	Ground              Ground
	Magnetic            MagneticField `json:",omitzero"`
}

// MagneticField is the earth's at a site. Strength 0: that of the World Magnetic Model at the beginning of 2025.
type MagneticField struct {
	Strength    float64 // T
	Inclination float64 // rad below the horizon
	Declination float64 // rad clockwise from north
}

// Wind is a steady wind plus gusts and turbulence. The steady wind has one profile: a power law, or with a Roughness
// a logarithmic law, or the table Aloft, which replaces Speed, From, Height, Exponent and Roughness.
type Wind struct {
	Speed     float64     // m/s at Height
	From      float64     // rad clockwise from north, where it comes from
	Height    float64     // m above ground of Speed
	Exponent  float64     // of the power law
	Roughness float64     // m, roughness length of the logarithmic law; 0: the power law
	Aloft     []WindLevel // in order of rising height
	Gusts     []Gust

	Turbulence Turbulence
}

// Turbulence is the random part of the wind by the Dryden model of MIL-F-8785C, drawn from the seed.
type Turbulence struct {
	On    bool
	W20   float64 // m/s, the wind at 20 ft that sets its intensity up to 1000 ft; 0: that of the steady wind
	Aloft float64 // m/s, rms of each component above 2000 ft; 0: as at 1000 ft, W20/10
}

// WindLevel is the wind at one height. Between levels the components east and north change linearly;
// below the lowest and above the highest level it is constant.
type WindLevel struct {
	Height float64 // m above ground
	Speed  float64 // m/s
	From   float64 // rad clockwise from north, where it comes from
}

// Gust is a discrete 1-cosine gust between two heights: 0 at Base, Peak at Base+Length/2, 0 at Base+Length.
type Gust struct {
	Base, Length float64 // m above ground
	Peak         float64 // m/s
	From         float64 // rad clockwise from north
}

// Up gives the unit vector pointing up in world axes.
func Up() r3.Vec { return r3.Vec{Z: 1} }
