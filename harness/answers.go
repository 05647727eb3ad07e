package harness

import "drystage/sim"

// Answers holds a board's response times, from when a question was sent to when its answer came. They are measured by
// the wall clock, for boards with their own processor or process, so they differ from run to run. The zero Answers
// was not measured.
type Answers struct {
	Limit   sim.Time // for each
	Slowest sim.Time // the slowest, except what the bench's own computer may have added
	At      sim.Time // of the run, when the slowest was asked for
	Bench   sim.Time `json:",omitzero"` // how much of the slowest the bench's computer may have added
	Over    int      `json:",omitzero"` // answers that took longer than the limit, including what it may have added
	Missing int      `json:",omitzero"` // in real time: questions without an answer
	// MissingAt is when the first question without an answer was asked.
	MissingAt sim.Time `json:",omitzero"`
}

// Answer limits. In lockstep, a board that needs more than a period of its fastest sensor would miss samples in a real
// flight. In real time its answers don't belong to samples: 100 ms is the longest reaction time that the verdict
// allows for, and 20 periods of an IMU are about 750 bytes, the size of receive buffers of small boards. Common
// practice, no source.
const (
	realTimePeriods = 20
	realTimeMin     = 100 * sim.Millisecond
)

// AnswerLimit is the answer limit of a board with these sensors, in lockstep or in real time, if its file gives none.
// Without any sensor it is a second.
func AnswerLimit(s *sim.Sensors, realTime bool) sim.Time {
	period := sim.Second
	if rate := s.Fastest(); rate > 0 {
		period = sim.Seconds(1 / rate)
	}
	if realTime {
		return max(realTimePeriods*period, realTimeMin)
	}
	return period
}

// Ending is how a board's program ended. The zero Ending means status 0, or a board that isn't a program started by
// the bench.
type Ending struct {
	Status int    `json:",omitzero"` // exit status
	Signal string `json:",omitzero"` // the signal that ended it, such as aborted; empty: none
	Forced string `json:",omitzero"` // the signal that the bench sent first, because it had not ended when its link was closed
}

// CausedByBench says that the program ended because of the bench's signal.
func (e *Ending) CausedByBench() bool {
	return e.Forced != "" && (e.Signal == "" || e.Signal == e.Forced || e.Signal == "killed")
}

// OK says that the program ended with status 0, or that the bench had to end it.
func (e *Ending) OK() bool { return e.Status == 0 && e.Signal == "" || e.CausedByBench() }
