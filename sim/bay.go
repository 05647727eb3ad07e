package sim

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
	// Load is the resistance in ohm of what hangs on the output, igniter and leads: what it draws from
	// the board's battery while it is on, and what a test of its continuity finds. 0: not told, draws
	// nothing.
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

// The effects. Nothing is for a buzzer or a lamp.
const (
	Nothing  EffectKind = iota
	Ignite              // the stage's motor
	Separate            // the stage from the one above it, by charge
	Deploy              // one of the stage's recovery devices
)
