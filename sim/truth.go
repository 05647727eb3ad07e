package sim

import (
	"math"

	"gonum.org/v1/gonum/num/quat"

	"drystage/sim/plain"
	"drystage/sim/r3"
)

// State is the true state, at one instant, of the body that one stage belongs to. Stages that are
// still joined have equal States.
type State struct {
	Position r3.Vec      // m, of the body's centre of gravity: distance over the ground east and north, height
	Velocity r3.Vec      // m/s, world axes
	Attitude quat.Number // turns body axes into world axes
	Rates    r3.Vec      // rad/s, body axes
	Force    r3.Vec      // m/s2, body axes: specific force at the centre of gravity, what an ideal accelerometer there reads
	Angular  r3.Vec      // rad/s2, body axes
	Mass     float64     // kg
	CG       float64     // m aft of the body's front end
	Front    float64     // m from the body's front end back to this stage's front end
	Pressure float64     // Pa, undisturbed air at the body
	Ambient  float64     // K, undisturbed air at the body
	Airspeed float64     // m/s
	Mach     float64
	Dynamic  float64 // Pa, dynamic pressure
	Air      r3.Vec  // m/s, body axes: velocity through the air
	Thrust   float64 // N
	Landed   bool
	OnPad    bool // held by the pad, before liftoff
}

// Height is the height above the pad in m.
func (s *State) Height() float64 { return s.Position.Z }

// Alpha is the angle of attack in rad, between the body's x axis and its velocity through the air.
func (s *State) Alpha() float64 {
	return plain.Atan2(math.Sqrt(float64(s.Air.Y*s.Air.Y)+float64(s.Air.Z*s.Air.Z)), s.Air.X)
}

// Tilt is the angle in rad between the body's x axis and the vertical. That axis is the first column of the matrix of
// the attitude, which may be a quaternion of any length.
func (s *State) Tilt() float64 {
	w, a, b, c := s.Attitude.Real, s.Attitude.Imag, s.Attitude.Jmag, s.Attitude.Kmag
	aa, bb, cc := float64(a*a), float64(b*b), float64(c*c)
	k := 2 / (float64(w*w) + aa + (bb + cc))
	x, y, z := 1-float64(k*(bb+cc)), float64(k*(float64(a*b)+float64(w*c))), float64(k*(float64(a*c)-float64(w*b)))
	return plain.Atan2(math.Sqrt(float64(x*x)+float64(y*y)), z)
}

// Quantity names a scalar of a State for expectations and crossings.
type Quantity uint8

// The quantities; Descent is the speed downwards, Climb upwards.
const (
	NoQuantity Quantity = iota
	Height
	Airspeed
	Speed
	Climb
	Descent
	Tilt
	Mach
	Acceleration // magnitude of specific force, m/s2
	DynamicPressure
)

var quantityNames = [...]string{"", "height", "airspeed", "speed", "climb", "descent", "tilt", "mach", "acceleration", "dynamic_pressure"}

// String gives the word used in files.
func (q Quantity) String() string { return quantityNames[q] }

// Quantities lists the words used in files, in order of their constants, without the empty one.
func Quantities() []string { return quantityNames[1:] }

// Of gives the quantity of a state, in SI.
func (q Quantity) Of(s *State) float64 {
	switch q {
	case Height:
		return s.Position.Z
	case Airspeed:
		return s.Airspeed
	case Speed:
		return norm(s.Velocity)
	case Climb:
		return s.Velocity.Z
	case Descent:
		return -s.Velocity.Z
	case Tilt:
		return s.Tilt()
	case Mach:
		return s.Mach
	case Acceleration:
		return norm(s.Force)
	case DynamicPressure:
		return s.Dynamic
	}
	return 0
}

// Event is something that happened in a flight. Names are those of files: "liftoff",
// "booster.burnout", "apogee", or the text of a Crossing.
type Event struct {
	Name string
	At   Time
}

// Tick is one instant of a run. It is valid until the next Step of its Source.
type Tick struct {
	Now    Time
	States []State // one per stage
	Frames []Frame // one per bay
	Events []Event // found since the tick before, in order of time
	Active uint64  // bit i: fault i has an effect in this tick
	// Injected are the changes of this tick's samples by sensor faults, in order.
	Injected []Injection
	// Warnings are all warnings about the flight so far. A replayed flight has none.
	Warnings []Warning
}

// Source is a source of ticks: a simulated world, or a recorded flight. Step takes the edges of the boards' outputs
// since the last tick and advances to the next; ok is false when there is no tick after this one.
type Source interface {
	Step(outs []Output) (t *Tick, ok bool)
}

// Output is an edge of one output channel.
type Output struct {
	Bay     int // index into Setup.Bays
	Channel int
	On      bool
	At      Time
}

// norm is r3.Norm with the same bits on every processor: math.Hypot is assembly on some.
func norm(v r3.Vec) float64 {
	return math.Sqrt(float64(v.X*v.X) + float64(v.Y*v.Y) + float64(v.Z*v.Z))
}
