package sim

import "drystage/sim/r3"

// Pyroshock is what a pyrotechnic charge, or another push of some milliseconds, does to the structure that it acts on.
// With Push 0 it acts at once, and no accelerometer feels it.
type Pyroshock struct {
	Push   Time    // how long it pushes; its force is half a sine wave
	Peak   float64 // m/s2, of the structure's ringing at first; 0: it doesn't ring
	Ring   float64 // Hz
	Decay  Time    // of the ringing, by a factor of e
	Offset float64 // m from the body's axis towards its y axis
}

// Ground is the ground at the site. With Stiffness 0 a body that lands stops at once and stays as it is.
type Ground struct {
	Stiffness float64 // N/m; it doesn't spring back
	Friction  float64 // force along over force across
}

// Shock is what pulses of some milliseconds do to a body, in body axes. A sensor can't feel them at one instant: it
// takes their mean over its sample period from the sums here, so that what it integrates to is right.
type Shock struct {
	Force, Angular r3.Vec  // m/s2, rad/s2: the part of State.Force and State.Angular that pulses have now
	Velocity, Rate r3.Vec  // m/s, rad/s: their sums over time since the run began, with the velocity of ringing
	Angle          r3.Vec  // rad, rotation of the ringing structure
	Most           float64 // m/s2, above all that they have done to any place of the body in the last 20 ms
	Changes        uint64  // how often any of these has changed
}
