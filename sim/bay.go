package sim

// Bay is the place of one flight computer: the stage that carries it, its sensors, and what each of its outputs does
// to the vehicle.
type Bay struct {
	Name    string  // the board's role, such as "sustainer"
	Stage   int     // index into Vehicle.Stages
	Station float64 // m aft of the stage's front end, where the sensors sit
	Sensors Sensors
	Wires   []Wire
	// Checks says that the board measures the continuity of its outputs, so that it is told what it reads there.
	Checks bool `json:",omitzero"`
	Boot   Time // from power-on to the board's first message
}

// Wire connects an output channel of a board to its effect.
type Wire struct {
	Channel int    // as the board numbers it, from 1
	Name    string // such as "drogue"
	Effect  Effect
	// Load is the resistance in ohm of igniter and leads on the output. It sets the current from the board's battery
	// while the output is on, and the result of a continuity test. 0: not given, no current.
	Load float64
}

// Effect is what an output does to the vehicle.
type Effect struct {
	Kind   EffectKind
	Stage  int // index into Vehicle.Stages
	Device int // index into Stage.Recovery, for Deploy
}

// EffectKind is the kind of an Effect.
type EffectKind uint8

// The effects. Nothing is for outputs such as a buzzer or a lamp.
const (
	Nothing  EffectKind = iota
	Ignite              // the stage's motor
	Separate            // the stage from the one above it, by charge
	Deploy              // one of the stage's recovery devices
)
