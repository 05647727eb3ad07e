package harness

import "drystage/sim"

// Answers is how long a board took for its answers, from when a question had left to when its answer came. It is
// measured of boards with a processor or a process of their own, by the clock on the wall, so that it differs from run
// to run. The zero Answers was not measured.
type Answers struct {
	Limit   sim.Time // for each
	Slowest sim.Time // but for what the bench's own computer may have added beyond the limit
	At      sim.Time // of the run, when the slowest was asked for
	Bench   sim.Time `json:",omitzero"` // how much of the slowest that computer may have added
	Over    int      `json:",omitzero"` // answers that took longer than the limit, whatever it may have added
	Missing int      `json:",omitzero"` // in real time: questions without an answer
	// MissingAt is when the first question without an answer was asked.
	MissingAt sim.Time `json:",omitzero"`
}

// Answer limits. In lockstep a board that needs more than a period of its fastest sensor would miss samples in flight,
// where the next one does not wait. In real time its answers are not tied to its samples: 100 ms is how long the
// judgement takes a decision to follow from what the board was told, and 20 periods of an IMU are about 750 bytes, what
// receive buffers of small boards hold: common practice, no source.
const (
	realTimePeriods = 20
	realTimeMin     = 100 * sim.Millisecond
)

// AnswerLimit is how long a board with these sensors may take for an answer, in lockstep or in real time, when its file
// does not tell. Sensors without a rate give a limit of a second.
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

// Ending is how the program ended that played a board; the zero Ending is that of one which ended with status 0, or of
// a board that is no program of ours.
type Ending struct {
	Status int    `json:",omitzero"` // exit status
	Signal string `json:",omitzero"` // that ended it, such as aborted; empty: none
	Forced string `json:",omitzero"` // the signal that the bench gave it first, since it had not ended with its line
}

// CausedByBench says that the bench made the program end as it did.
func (e *Ending) CausedByBench() bool {
	return e.Forced != "" && (e.Signal == "" || e.Signal == e.Forced || e.Signal == "killed")
}

// OK says that the program ended as one should, or that the bench had to end it.
func (e *Ending) OK() bool { return e.Status == 0 && e.Signal == "" || e.CausedByBench() }
