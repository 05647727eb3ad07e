package link

import (
	"fmt"
	"time"
)

// Program is a Link to a program that was started for it.
type Program interface {
	Link
	// End waits a moment for the program to end by itself, hangs up its line, and ends it and all that it has
	// started if that is of no use. It returns when the program has ended. Call it once what the program said
	// has been read and it was told that the run is over; the link is of no use behind it.
	End() End
	// Waited is how long the program and what it has started, and the thread that asks, have waited for a processor
	// so far while they could have run; 0 where the system does not tell. Only differences count, between two calls
	// of one locked thread. What is new may be missed when it need not be exact. It is not for use behind End.
	Waited(exact bool) time.Duration
}

// End is how a program ended. The zero End is that of a program which ended with status 0.
type End struct {
	Status int    // exit status; 0 when a signal ended it
	Signal string // that ended it; empty: none
	Forced string // the signal that it was given first, since it did not end when its line did; empty: none
}

// String tells it as "exit status 3" or "signal: aborted".
func (e End) String() string {
	if e.Signal != "" {
		return "signal: " + e.Signal
	}
	return fmt.Sprintf("exit status %d", e.Status)
}
