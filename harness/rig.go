package harness

import "drystage/sim"

// Rig is the hardware between this computer and the boards: pins, switches and dummy loads, as described by a rig file.
type Rig struct {
	Name      string
	File      string   // the path it was read from
	Digest    string   // SHA-256 of the file, in hex
	Simulated bool     // no hardware: drive pins are connected to capture pins in memory
	State     string   // simulated: the word that names the file of the drive pins; "" is none
	Default   sim.Time // expanded uncertainty (k = 2) of an edge without a measured path
	Lasts     sim.Time // how long a measurement is valid
	Boards    []RigBoard
	Drives    []Drive // in the order of the file
}

// RigBoard is a board on a rig.
type RigBoard struct {
	Role    string
	Place   Place
	Address string // of the board; "" if the command line gives it
	Outputs []RigOutput
}

// RigOutput is the load on an output, and the pin that measures it.
type RigOutput struct {
	Name    string
	Place   Place
	Load    Load
	Capture Pin // its Name is "" if the output has no pin
	Wire    SimulatedWire
}

// SimulatedWire is how the wire from an output to its pin behaves on a simulated rig.
type SimulatedWire uint8

// The kinds of simulated wire.
const (
	WireWhole   SimulatedWire = iota // the pin follows
	WireLoose                        // the pin never moves
	WireBounces                      // the pin bounces for 5 ms, then follows
)

// Load is the dummy load of an output. Kind "" is undeclared.
type Load struct {
	Kind      string  // resistor, lamp, led or open
	Ohm       float64 // open: none
	Tolerance float64 // as a fraction of Ohm
}

// Pin is a pin of this computer and its connection to a board.
type Pin struct {
	Name      string // as the computer names it, such as GPIO17
	ActiveLow bool   // low is on
	Pull      Pull
	Debounce  sim.Time // a level must be stable for this long
	Wired     string   // description of the wiring
	Delay     sim.Time // from the board's edge to the pin's, or from the pin to its effect
	Within    sim.Time // expanded uncertainty (k = 2) of Delay
}

// Pull is the resistor inside a pin.
type Pull uint8

// The pulls.
const (
	PullNone Pull = iota
	PullUp
	PullDown
)

// String gives the word of a rig file.
func (p Pull) String() string { return [...]string{"none", "up", "down"}[p] }

// Drive is an output pin that acts on a board. On means supplied, armed, intact, held in reset or shorted.
type Drive struct {
	Pin
	Label  string
	Place  Place
	Does   DriveKind
	Role   string // of the board
	Output string // Loopback: the output whose capture pin it is wired to; Wire, Short: the output whose load it switches
	SafeOn bool   // its safe state is on
}

// DriveKind is what a drive pin does.
type DriveKind uint8

// The kinds of drive, in the order in which they are made safe.
const (
	DriveArming     DriveKind = iota // closes the arming loop
	DrivePower                       // switches the board's supply
	DriveLiftoff                     // a breakwire, whole until liftoff
	DriveSeparation                  // a breakwire, whole until separation
	DriveReset                       // holds the board in reset
	DriveLoopback                    // wired to a capture pin, to measure it
	DriveShort                       // shorts an output's load through a resistor while its wire is shorted in the flight
	DriveWire                        // connects an output's load, whole until its wire is lost in the flight or its igniter has burnt
)

// String gives the words of a rig file, without the board.
func (k DriveKind) String() string {
	return [...]string{"arming", "power", "liftoff breakwire", "separation breakwire", "reset", "loopback", "short", "wire"}[k]
}

// Board gives the rig's part for a role; nil if there is none.
func (r *Rig) Board(role string) *RigBoard {
	for i := range r.Boards {
		if r.Boards[i].Role == role {
			return &r.Boards[i]
		}
	}
	return nil
}

// Output gives an output of the board by its name; nil if the rig doesn't have it.
func (b *RigBoard) Output(name string) *RigOutput {
	for i := range b.Outputs {
		if b.Outputs[i].Name == name {
			return &b.Outputs[i]
		}
	}
	return nil
}
