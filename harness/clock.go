package harness

import "drystage/sim"

// Pace says how the frames of a run were sent to the boards. The zero value is lockstep.
type Pace struct {
	RealTime bool
	Limit    sim.Time // a frame sent later than this makes the run doubtful
	How      string   // what the operating system granted, for people
}

// Basis is the source of the time of an edge.
type Basis uint8

// The sources of the time at which an output switched.
const (
	ByTick    Basis = iota // lockstep: the bench's clock is the board's
	ByArrival              // when its frame came in: late by an unknown delay
	ByClock                // the board's own clock, through a fit to the bench's
	ByPin                  // a pin at the output measured it
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

// BoardClock is the fit of a board's clock to the readings of one life of the board, from one handshake to the next.
// Within is the expanded uncertainty (k = 2) of a time from the fit.
type BoardClock struct {
	Bay, Life int
	Readings  int
	Used      int      // how many were used: those with the shortest delays
	Delay     sim.Time // the shortest round trip
	Offset    sim.Time // of the board's clock from the bench's, in the middle of the readings
	Drift     float64  // of the board's clock, seconds per second
	Within    sim.Time // in the middle of the readings
	Trouble   string   // why it can't be used; empty: it can
}
