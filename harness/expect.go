package harness

import "drystage/sim"

// Expectation is one thing that a scenario demands. Which fields count depends on Kind.
type Expectation struct {
	Kind  ExpectationKind
	Text  string // one line, as reports print it
	Place Place
	Bay   int // Alive, Reports, and the board of Output

	Output Channel // Fires, Never, Once, Pulse, Order (the earlier one), AtFiring
	Then   Channel // Order: the later one

	// From and To bound the window of Fires, and of Never and Happens when HasFrom or HasTo say so.
	From, To       sim.Anchor
	HasFrom, HasTo bool
	// Answers, of Fires: what the output is tied to does its part, no earlier and in the time that it takes.
	Answers bool `json:",omitzero"`

	// Quantity is what AtFiring, AtEvent, and a Never "while" look at, on body Stage.
	Quantity sim.Quantity
	Stage    int
	Event    string // AtEvent, Happens

	// Least and Most bound a number: the quantity (SI), the pulse length or the gap of an Order (s),
	// the error of a report (Most only).
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
	Never                           // it stays dark: ever, inside a window, or while a quantity is out of bounds
	Once                            // it switches on at most once
	Pulse                           // how long it stays on
	Order                           // it switches on before another one does
	AtFiring                        // a quantity at the moment it switches on
	AtEvent                         // a quantity at an event
	Reports                         // what the board reports, against the truth
	Alive                           // the board answers to the end and never restarts unless its power was cut
	Happens                         // an event happens, at all or within a window
)

// ReportKind is what a board may report.
type ReportKind uint8

// The reports that can be judged: the greatest height above the pad, in m.
const (
	NoReport ReportKind = iota
	ApogeeHeight
)
