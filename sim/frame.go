package sim

import (
	"math"

	"drystage/sim/r3"
)

// Frame is all that a board gets at one instant: the samples of its sensors, never the true state.
type Frame struct {
	Now         Time
	Bay         int   // index into Setup.Bays
	Due         bool  // something is to be sent or asked at this instant
	Powered     bool  // the supply is on and the board has had time to boot
	Has         Parts // which samples below are fresh
	Twice       Parts // which of them are sent twice
	Skew        Time  // how far the board's clock is ahead of Now
	Line        Line  // faults of the link to the board
	Accel       r3.Vec
	Gyro        r3.Vec
	Pressure    float64 // Pa
	Temperature float64 // K, the barometer's own temperature
	GNSS        Fix
	Battery     float64 // V
	Mag         r3.Vec  // T
	Circuits    Circuits
	Commands    Commands
}

// Sample is the sample of one part: three axes, or X alone in Pa or V; of a fix longitude and latitude in rad
// and height in m.
func (f *Frame) Sample(p Part) r3.Vec {
	switch p {
	case PartAccel:
		return f.Accel
	case PartGyro:
		return f.Gyro
	case PartBaro:
		return r3.Vec{X: f.Pressure}
	case PartGNSS:
		return r3.Vec{X: f.GNSS.Longitude, Y: f.GNSS.Latitude, Z: f.GNSS.Height}
	case PartMag:
		return f.Mag
	}
	return r3.Vec{X: f.Battery}
}

// Line holds the faults of the link on which samples go to a board; the zero Line has none. Messages with time,
// commands and handshakes always arrive.
type Line struct {
	Flip   float32 // share of bytes in which one bit is flipped
	Lose   float32 // share of bytes that are lost
	Cut    float32 // share of frames whose end is lost
	Stall  bool    // samples are held back
	Random uint64  // seed of the random choice of bytes, different in each frame
}

// Faulty says that the link has any fault.
func (l *Line) Faulty() bool {
	return l.Stall || uint64(math.Float32bits(l.Flip)|math.Float32bits(l.Lose)|math.Float32bits(l.Cut))|l.Random != 0
}

// Parts is a set of sensors.
type Parts uint8

// The sensors of a Frame.
const (
	HasAccel Parts = 1 << iota
	HasGyro
	HasBaro
	HasGNSS
	HasBattery
	HasMag
	HasCircuits // no sensor: what the board's continuity check reads
)

// Circuits is what a continuity check reads at the outputs: bit c-1 of Open or Short for channel c. A channel that is
// neither has its load.
type Circuits struct{ Open, Short uint16 }

// Fix is the output of a GNSS receiver.
type Fix struct {
	Latitude, Longitude float64 // rad
	Height              float64 // m above mean sea level
	Velocity            r3.Vec  // m/s east, north, up
	Kind                FixKind
	Satellites          int
}

// FixKind is the kind of a GNSS fix.
type FixKind uint8

// The kinds of fix.
const (
	NoFix FixKind = 0
	Fix2D FixKind = 2
	Fix3D FixKind = 3
)

// Commands is a set of operator commands given at one instant.
type Commands uint8

// The operator's commands. Stage requests ignition of the upper motor by radio.
const (
	CommandArm Commands = 1 << iota
	CommandDisarm
	CommandStage
)

// Command is an operator's command in a plan.
type Command struct {
	At   Anchor
	Bay  int // index into Setup.Bays; -1: every board
	What Commands
}
