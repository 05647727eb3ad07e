package harness

import "drystage/sim"

// Expectation is one requirement of a scenario. Which fields are used depends on Kind.
type Expectation struct {
	Kind  ExpectationKind
	Text  string // one line, as reports print it
	Place Place
	Bay   int // Alive, Reports, and the board of Output

	Output Channel // Fires, Never, Once, Pulse, Order (the earlier one), AtFiring
	Then   Channel // Order: the later one

	// From and To bound the window of Fires, and of Never, Happens and Reports when HasFrom or HasTo say so.
	From, To       sim.Anchor
	HasFrom, HasTo bool
	// Answers, of Fires: the device on the output responds, not earlier, and within its own delay.
	Answers bool `json:",omitzero"`

	// Quantity is the quantity of AtFiring, AtEvent, and of a Never with "while", for the body of Stage.
	Quantity sim.Quantity
	Stage    int
	Event    string // AtEvent, Happens; Reaction: the cause
	Off      bool   `json:",omitzero"` // Reaction: the output goes off, not on

	// Least and Most bound a number: the quantity (SI), the pulse length or the gap of an Order (s),
	// the error of a report and the time of a reaction (Most only).
	Least, Most       float64
	HasLeast, HasMost bool

	Report ReportKind
}

// Channel is one output of one board.
type Channel struct {
	Bay     int
	Channel int
	Name    string // "sustainer.drogue"
}

// ExpectationKind is the kind of an Expectation.
type ExpectationKind uint8

// The kinds of expectation.
const (
	Fires    ExpectationKind = iota // the output switches on within a window; its first edge counts
	Never                           // it stays off: always, inside a window, or while a quantity is out of bounds
	Once                            // it switches on at most once
	Pulse                           // how long it stays on
	Order                           // it switches on before another one does
	AtFiring                        // a quantity when it switches on
	AtEvent                         // a quantity at an event
	Reports                         // what the board reports, compared with the true state
	Alive                           // the board answers to the end and never restarts unless its power was cut
	Happens                         // an event happens, at all or within a window
	Reaction                        // how long after an event or command it switches
)

// ReportKind is a quantity that a board reports.
type ReportKind uint8

// The reports that can be judged.
const (
	NoReport       ReportKind = iota
	ApogeeHeight              // the greatest height above the pad, in m, as last reported
	ReportedHeight            // each height above the pad, in m
	ReportedSpeed             // each upward speed, in m/s
)
