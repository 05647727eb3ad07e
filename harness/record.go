package harness

import (
	"slices"

	"drystage/sim"
)

// Record is everything that was sent, received and true in one run, with times. What is missing in one
// that is not Complete proves nothing.
type Record struct {
	Plan   Plan
	Made   Maker
	Times  []sim.Time // one per tick
	Pace   Pace
	Late   []sim.Time  // one per tick: how late its frames left; empty in lockstep
	Active []uint64    // one per tick: bit i says that fault i changed something
	States []sim.State // ticks x stages, the stages of a tick side by side
	Frames []sim.Frame // ticks x bays, as sent
	// Injected is what faults did to samples, in order of time: beside the true State and the Frame as sent.
	Injected []sim.Injection
	Events   []sim.Event // in order of time
	// Warnings are where the flight left its model, or codes and practice; none of a flight that was played again.
	Warnings []sim.Warning
	Outputs  []Edge
	// FlightOutputs are the outputs as the flight was given them, in that order, each at the tick after which it
	// was. Outputs may have better times, once the run is over and the boards' clocks and pins are known.
	FlightOutputs []sim.Output
	Reports       []Report
	Logs          []Log
	NMEA          []NMEASet
	Readings      []ClockReading // in real time
	Clocks        []BoardClock   // fitted to Readings at the end, one per life of a board
	Health        []Health       // one per bay, at the end
	Changes       []HealthChange // how it came to that, in order of time
	// Conflicts are edges about which a board and the pin at its output don't agree.
	Conflicts []Conflict
	// Unmeasured are the outputs seen by a pin whose delay no measurement that counts has told.
	Unmeasured []Unmeasured
	Cause      string // why the run did not reach its planned end; empty: it did
}

// Complete says that the run reached its planned end: nothing ended it early, and Setup.Until had come by
// the last tick.
func (r *Record) Complete() bool {
	if r.Cause != "" || len(r.Times) == 0 {
		return false
	}
	end, ok := r.Plan.Setup.Until.In(r.Events)
	return ok && r.Times[len(r.Times)-1] >= end
}

// Maker says what made a record, so that a difference can be explained.
type Maker struct {
	Version string // of drystage
	Go      string
	Arch    string   // operating system and processor
	Boards  []string // where they were
	Rig     string   `json:",omitzero"` // the file of the rig that they sat on; empty: none
}

// Edge is an output that switched, with the expanded uncertainty (k = 2) of its time. The simulated
// flight felt it at the tick after it came in, whatever its time turned out to be.
type Edge struct {
	sim.Output
	Within sim.Time
	Basis  Basis    `json:",omitzero"`
	Stamp  sim.Time `json:",omitzero"` // real time: by the board's own clock
	Came   sim.Time `json:",omitzero"` // real time: when its frame came in
	Life   int      `json:",omitzero"` // real time: of the board, see ClockReading
}

// Conflict is an edge of which a board's word and the pin at its output tell different things. A time
// counts only where Has says so.
type Conflict struct {
	Bay, Channel           int
	On                     bool
	Told, Seen             sim.Time // by the board's word, by the pin
	ToldWithin, SeenWithin sim.Time // expanded uncertainties (k = 2)
	HasTold, HasSeen       bool
}

// Unmeasured is an output whose edges count with the rig's default uncertainty.
type Unmeasured struct {
	Bay, Channel int
	Within       sim.Time // the default (k = 2)
	Why          string   // a clause, such as "the rig was never measured"
	Next         string   // what to do
}

// Report is what a board says it thinks.
type Report struct {
	Bay    int
	At     sim.Time
	Phase  [16]byte // its own word, zero-padded
	Height float64  // m above the pad
	Speed  float64  // m/s upwards
	Apogee float64  // m above the pad, greatest height so far
}

// PhaseText gives the phase as text.
func (r *Report) PhaseText() string { return text(r.Phase[:]) }

// Log is a line of text from a board.
type Log struct {
	Bay  int
	At   sim.Time
	Text string
}

// NMEASet is a set of NMEA 0183 sentences that a board's receiver spoke on its own port. Lost: there was no
// room for it, since the port took nothing.
type NMEASet struct {
	Bay  int
	At   sim.Time
	Text string
	Lost bool `json:",omitzero"`
}

// PortHealth is how a receiver's own port took its sets of sentences. One that lost none may still have
// had nobody at its other end.
type PortHealth struct {
	Address    string
	Sent, Lost int
	Cause      string `json:",omitzero"` // why it lost some
}

// Health is what is known of one board's link and life at the end of a run. Counts are of frames.
type Health struct {
	Name       string // as the board gave it at the handshake
	Boots      int    // handshakes answered
	Unasked    int    // restarts that no power cut explains
	Bad        int    // frames from the board that were corrupt
	Lost       int    // frames from the board that are missing by sequence number
	BoardBad   int    // frames that the board counted as corrupt
	BoardLost  int    // frames that the board counted as missing
	Unarmed    int    // edges while the board said it was not armed
	RoundTrips int
	Reports    int // of what it thinks
	// Answers in which it said that it is armed though nobody had armed it, and when it first did.
	SelfArmed   int      `json:",omitzero"`
	SelfArmedAt sim.Time `json:",omitzero"`
	// What the plan's faults of the link did to the frames sent, as the board should have counted it.
	SpoiltBad  int        `json:",omitzero"` // arrived corrupt
	SpoiltLost int        `json:",omitzero"` // missing by sequence number
	Port       PortHealth `json:",omitzero"` // of a receiver that speaks on its own
	Answers    Answers    `json:",omitzero"`
	End        Ending     `json:",omitzero"`
}

// HealthChange is a board's health once something else in it had changed than its counts of round trips and
// reports, so that a record tells when a frame was lost or a board started anew.
type HealthChange struct {
	At  sim.Time // of the tick in which it changed
	Bay int
	Health
}

// Changed says that another health differs in more than its counts of round trips and reports.
func (h Health) Changed(to Health) bool {
	to.RoundTrips, to.Reports = h.RoundTrips, h.Reports
	return h != to
}

// maxChanges are kept of each board; beyond them the last one takes the place of the one before.
const maxChanges = 1000

// KeepHealth keeps a board's health, if it has changed.
func (r *Record) KeepHealth(x HealthChange) {
	n, last := 0, -1
	for i := range r.Changes {
		if r.Changes[i].Bay == x.Bay {
			n, last = n+1, i
		}
	}
	switch {
	case last >= 0 && !r.Changes[last].Changed(x.Health):
	case n < maxChanges:
		r.Changes = append(r.Changes, x)
	default:
		r.Changes[last] = x
	}
}

// Faultless says that no frame was lost or spoilt in either direction but those that the plan's faults
// took, and that the board counted just those.
func (h *Health) Faultless() bool {
	return h.Bad == 0 && h.Lost == 0 && h.BoardBad == h.SpoiltBad && h.BoardLost == h.SpoiltLost
}

// Reset empties the record but for its plan and maker, and keeps its memory.
func (r *Record) Reset() {
	*r = Record{
		Plan: r.Plan, Made: r.Made,
		Times: r.Times[:0], Late: r.Late[:0], Active: r.Active[:0], States: r.States[:0], Frames: r.Frames[:0], Injected: r.Injected[:0],
		Events: r.Events[:0], Outputs: r.Outputs[:0], FlightOutputs: r.FlightOutputs[:0], Reports: r.Reports[:0], Logs: r.Logs[:0], NMEA: r.NMEA[:0], Health: r.Health[:0], Changes: r.Changes[:0],
		Readings: r.Readings[:0], Clocks: r.Clocks[:0], Conflicts: r.Conflicts[:0], Unmeasured: r.Unmeasured[:0], Warnings: r.Warnings[:0],
	}
}

// Reserve makes room for ticks, so that keeping them takes no memory while a run is on.
func (r *Record) Reserve(ticks int) {
	r.Times, r.Late, r.Active = slices.Grow(r.Times, ticks), slices.Grow(r.Late, ticks), slices.Grow(r.Active, ticks)
	r.States = slices.Grow(r.States, ticks*len(r.Plan.Setup.Vehicle.Stages))
	r.Frames = slices.Grow(r.Frames, ticks*len(r.Plan.Setup.Bays))
	r.Reports, r.Readings = slices.Grow(r.Reports, ticks/4), slices.Grow(r.Readings, ticks/4)
}

// Ticks is the number of ticks.
func (r *Record) Ticks() int { return len(r.Times) }

// State gives the true state of the body that a stage belongs to, at a tick.
func (r *Record) State(tick, stage int) *sim.State {
	return &r.States[tick*len(r.Plan.Setup.Vehicle.Stages)+stage]
}

// Frame gives what a bay was sent at a tick.
func (r *Record) Frame(tick, bay int) *sim.Frame {
	return &r.Frames[tick*len(r.Plan.Setup.Bays)+bay]
}

// FaultTicks counts the ticks in which a fault changed something.
func (r *Record) FaultTicks(fault int) int {
	n := 0
	for _, a := range r.Active {
		n += int(a >> fault & 1)
	}
	return n
}

func text(b []byte) string {
	for i, c := range b {
		if c == 0 {
			return string(b[:i])
		}
	}
	return string(b)
}
