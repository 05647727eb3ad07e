package harness

import "drystage/sim"

// Pace says how the frames of a run left for the boards. The zero value is lockstep.
type Pace struct {
	RealTime bool
	Limit    sim.Time // a frame that leaves later than this leaves the run in doubt
	How      string   // what the operating system granted, for people
}

// Basis says what the time of an edge rests on.
type Basis uint8

// The ways to know when an output switched, and what each is worth.
const (
	ByTick    Basis = iota // lockstep: the bench's clock is the board's
	ByArrival              // when its frame came in: late by an unknown delay
	ByClock                // the board's own clock, through a fit to the bench's
	ByPin                  // a pin at the output saw it
)

// String gives the words used in reports.
func (b Basis) String() string { return [...]string{"tick", "arrival", "board clock", "pin"}[b] }

// ClockReading is one question for a board's own clock, in real time, and its answer.
type ClockReading struct {
	Bay   int
	Life  int      // readings of one life of the board share one clock; each handshake begins another
	Sent  sim.Time // when the question left, by the bench's clock
	Came  sim.Time // when the answer came in, by the bench's clock
	Board sim.Time // what the board's clock read in between
}

// BoardClock is what the readings of one life of a board say of its clock. Within is the expanded
// uncertainty (k = 2) of a time that it gives.
type BoardClock struct {
	Bay, Life int
	Readings  int
	Used      int      // those of the shortest delays
	Delay     sim.Time // the shortest there and back
	Offset    sim.Time // of the board's clock from the bench's, in the middle of the readings
	Drift     float64  // of the board's clock, seconds per second
	Within    sim.Time // in the middle of the readings
	Trouble   string   // why it can't be used; empty: it can
}
