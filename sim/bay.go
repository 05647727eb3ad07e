package sim

import "gonum.org/v1/gonum/spatial/r3"

// Bay is a seat for one flight computer: the stage that carries it, its sensors, and what each of
// its outputs does to the vehicle.
type Bay struct {
	Name    string  // the board's role, such as "sustainer"
	Stage   int     // index into Vehicle.Stages
	Station float64 // m aft of the stage's front end, where the sensors sit
	Sensors Sensors
	Wires   []Wire
	Boot    Time // from power to the first word of the board
}

// Wire ties an output channel of a board to what it does.
type Wire struct {
	Channel int    // as the board numbers it, from 1
	Name    string // such as "drogue"
	Effect  Effect
}

// Effect is what an output does to the vehicle.
type Effect struct {
	Kind   EffectKind
	Stage  int // index into Vehicle.Stages
	Device int // index into Stage.Recovery, for Deploy
}

// EffectKind is the kind of an Effect.
type EffectKind uint8

// The effects. Nothing is for a buzzer or a lamp.
const (
	Nothing  EffectKind = iota
	Ignite              // the stage's motor
	Separate            // the stage from the one above it, by charge
	Deploy              // one of the stage's recovery devices
)

// Sensors are the parts on a board. A part with Rate 0 is not fitted.
type Sensors struct {
	Accel   Triad // m/s2, specific force
	Gyro    Triad // rad/s
	Baro    Barometer
	GNSS    Receiver
	Battery Battery
}

// Triad is a three-axis part.
type Triad struct {
	Rate       float64 // Hz
	Range      float64 // clips at plus and minus this
	Resolution float64 // step of the output; 0: none
	Noise      float64 // one standard deviation of each sample and axis
	Bias       r3.Vec  // in the part's own axes
	// Mounting holds the part's axes X, Y, Z as unit vectors in body axes.
	Mounting [3]r3.Vec
}

// Barometer measures static pressure in Pa and its own temperature in K.
type Barometer struct {
	Rate       float64 // Hz
	Min, Max   float64 // Pa, clips there
	Resolution float64 // Pa
	Noise      float64 // Pa, one standard deviation
	Bias       float64 // Pa
}

// Receiver is a GNSS receiver.
type Receiver struct {
	Rate          float64 // Hz
	PositionNoise float64 // m, one standard deviation, each horizontal axis
	HeightNoise   float64 // m
	VelocityNoise float64 // m/s, each axis
}

// Battery feeds the board.
type Battery struct {
	Rate       float64 // Hz of the board's own measurement
	Voltage    float64 // V, fresh and without load
	Sag        float64 // V lost over an hour on the bench
	Noise      float64 // V, one standard deviation
	Resolution float64 // V
}
