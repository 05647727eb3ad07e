package harness

import "drystage/sim"

// Reply is what one board gave back in one exchange. Its slices are reused by the board that fills
// it.
type Reply struct {
	Outputs []sim.Output // edges, in order of time
	Within  sim.Time     // expanded uncertainty (k = 2) of their times
	Reports []Report
	Logs    []Log
}

// Reset empties the reply and keeps its memory.
func (r *Reply) Reset() {
	r.Outputs, r.Reports, r.Logs = r.Outputs[:0], r.Reports[:0], r.Logs[:0]
}
