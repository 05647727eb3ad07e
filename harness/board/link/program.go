package link

import (
	"fmt"
	"time"
)

// Program is a Link to a program that was started for it.
type Program interface {
	Link
	// End waits a moment for the program to end by itself, then hangs up its line, then ends it and all that it has
	// started. It returns when the program has ended. Call it after BYE, when all output of the program has been
	// read; the link can't be used afterwards.
	End() End
	// Waited is how long the program, what it has started, and the calling thread have been ready to run but waited
	// for a processor so far; 0 if the system does not tell. Only the difference of two calls on one locked thread
	// has a meaning. Without exact, new processes and threads may be missed. Do not call it after End.
	Waited(exact bool) time.Duration
}

// End is how a program ended. The zero End is a program that ended with status 0.
type End struct {
	Status int    // exit status; 0 when a signal ended it
	Signal string // the signal that ended it; empty: none
	Forced string // the first signal that it was sent because it did not end with its line; empty: none
}

// String tells it as "exit status 3" or "signal: aborted".
func (e End) String() string {
	if e.Signal != "" {
		return "signal: " + e.Signal
	}
	return fmt.Sprintf("exit status %d", e.Status)
}
