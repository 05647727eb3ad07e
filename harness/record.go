package harness

import (
	"strings"

	"drystage/sim"
)

// Record is everything that was sent and received in one run, and the true state, with times. What is missing in an
// incomplete record proves nothing.
type Record struct {
	Plan   Plan
	Made   Maker
	Times  []sim.Time // one per tick
	Pace   Pace
	Late   []sim.Time  // one per tick: how late its frames left; empty in lockstep
	Active []uint64    // one per tick: bit i says that fault i had an effect
	States []sim.State // ticks x stages, the stages of a tick together
	Frames []sim.Frame // ticks x bays, as sent
	// Injected are the changes of samples by faults, in order of time.
	Injected []sim.Injection
	Events   []sim.Event // in order of time
	// Warnings of the flight: outside of its model, or beyond codes and practice. A replayed flight has none.
	Warnings []sim.Warning
	Outputs  []Edge
	// FlightOutputs are the outputs in the order in which they were applied to the simulated flight, each with the
	// tick after which that was. Outputs may have better times, from the boards' clocks and pins.
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
	// Unmeasured are the outputs with a pin whose delay has no valid measurement.
	Unmeasured []Unmeasured
	Cause      string // why the run did not reach its planned end; empty: it did
}

// Complete says that the run reached its planned end: nothing ended it early, and the last tick is at or after
// Setup.Until.
func (r *Record) Complete() bool {
	if r.Cause != "" || len(r.Times) == 0 {
		return false
	}
	end, ok := r.Plan.Setup.Until.In(r.Events)
	return ok && r.Times[len(r.Times)-1] >= end
}

// Maker says with what a record was made, so that a difference can be explained.
type Maker struct {
	Version string // of drystage
	Go      string
	Arch    string   // operating system and processor
	Boards  []string // their addresses
	Rig     string   `json:",omitzero"` // the file of the rig; empty: none
}

// SameProgram says whether another record, or flight, is made by the same program on the same kind of processor: only
// then are its results the same to the bit.
func (m *Maker) SameProgram(other *Maker) bool {
	return m.Version == other.Version && m.Go == other.Go && m.Arch == other.Arch
}

// Edge is a change of an output's level, with the expanded uncertainty (k = 2) of its time. The simulated flight
// applied it at the tick after it came in, independent of this time.
type Edge struct {
	sim.Output
	Within sim.Time
	Basis  Basis    `json:",omitzero"`
	Stamp  sim.Time `json:",omitzero"` // real time: by the board's own clock
	Came   sim.Time `json:",omitzero"` // real time: when its frame came in
	Life   int      `json:",omitzero"` // real time: of the board, see ClockReading
}

// Conflict is an edge for which a board's message and the pin at its output differ. A time is valid only if its Has
// field is true.
type Conflict struct {
	Bay, Channel           int
	On                     bool
	Told, Seen             sim.Time // from the board's message, from the pin
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

// Report is a board's report of its own estimate.
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

// NMEASet is a set of NMEA 0183 sentences that a board's receiver sent on its own port. Lost means that the port did not
// accept it.
type NMEASet struct {
	Bay  int
	At   sim.Time
	Text string
	Lost bool `json:",omitzero"`
}

// PortHealth counts the sets of sentences on a receiver's own port. Without losses there may still have been nobody at
// the other end.
type PortHealth struct {
	Address    string
	Sent, Lost int
	Cause      string `json:",omitzero"` // why it lost some
}

// Health is the state of one board and its link at the end of a run. Counts are of frames.
type Health struct {
	Name       string // as the board gave it at the handshake
	Boots      int    // handshakes answered
	Unasked    int    // restarts without a power cut
	Bad        int    // frames from the board that were corrupt
	Lost       int    // frames from the board that are missing by sequence number
	BoardBad   int    // frames that the board counted as corrupt
	BoardLost  int    // frames that the board counted as missing
	Unarmed    int    // edges while the board said it was not armed
	RoundTrips int
	Reports    int
	// Answers in which it said that it is armed without a command to arm, and the time of the first.
	SelfArmed   int      `json:",omitzero"`
	SelfArmedAt sim.Time `json:",omitzero"`
	// Frames that the plan's link faults changed, as the board should have counted them.
	SpoiltBad  int        `json:",omitzero"` // arrived corrupt
	SpoiltLost int        `json:",omitzero"` // missing by sequence number
	Port       PortHealth `json:",omitzero"` // of a receiver with its own port
	Answers    Answers    `json:",omitzero"`
	End        Ending     `json:",omitzero"`
}

// HealthChange is a board's health when anything but its counts of round trips and reports has changed, so that a
// record tells when a frame was lost or a board restarted.
type HealthChange struct {
	At  sim.Time // of the tick in which it changed
	Bay int
	Health
}

// Changed says that another health differs in anything but its counts of round trips and reports.
func (h Health) Changed(to Health) bool {
	to.RoundTrips, to.Reports = h.RoundTrips, h.Reports
	return h != to
}

// maxChanges is how many changes are kept for each board. Beyond that, a new one replaces the last.
const maxChanges = 1000

// KeepHealth appends a board's health to Changes if it has changed.
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

// Faultless says that no frames were lost or corrupt in either direction except by the plan's faults, and that the
// board counted exactly those.
func (h *Health) Faultless() bool {
	return h.Bad == 0 && h.Lost == 0 && h.BoardBad == h.SpoiltBad && h.BoardLost == h.SpoiltLost
}

// Reset empties the record except its plan and maker, and keeps the allocated memory.
func (r *Record) Reset() {
	*r = Record{
		Plan: r.Plan, Made: r.Made,
		Times: r.Times[:0], Late: r.Late[:0], Active: r.Active[:0], States: r.States[:0], Frames: r.Frames[:0], Injected: r.Injected[:0],
		Events: r.Events[:0], Outputs: r.Outputs[:0], FlightOutputs: r.FlightOutputs[:0], Reports: r.Reports[:0], Logs: r.Logs[:0], NMEA: r.NMEA[:0], Health: r.Health[:0], Changes: r.Changes[:0],
		Readings: r.Readings[:0], Clocks: r.Clocks[:0], Conflicts: r.Conflicts[:0], Unmeasured: r.Unmeasured[:0], Warnings: r.Warnings[:0],
	}
}

// Reserve allocates room for ticks, so that a run doesn't have to. It is for an empty record.
func (r *Record) Reserve(ticks int) {
	r.Times, r.Late, r.Active = room(r.Times, ticks), room(r.Late, ticks), room(r.Active, ticks)
	r.States = room(r.States, ticks*len(r.Plan.Setup.Vehicle.Stages))
	r.Frames = room(r.Frames, ticks*len(r.Plan.Setup.Bays))
	r.Reports, r.Readings = room(r.Reports, ticks/4), room(r.Readings, ticks/4)
}

// room gives an empty slice with room for n, without a copy of what was there. A quarter more is allocated, so that
// a record that serves many flights of about one length soon fits all of them; memory that is not used costs nothing.
func room[T any](s []T, n int) []T {
	if cap(s) >= n {
		return s
	}
	return make([]T, 0, n+n/4)
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

// FaultTicks counts the ticks in which a fault had an effect.
func (r *Record) FaultTicks(fault int) int {
	n := 0
	for _, a := range r.Active {
		n += int(a >> fault & 1)
	}
	return n
}

// Bay finds the board of a role; no role means the first.
func (r *Record) Bay(role string) (int, error) {
	if role == "" {
		return 0, nil
	}
	var roles []string
	for i, b := range r.Plan.Setup.Bays {
		if b.Name == role {
			return i, nil
		}
		roles = append(roles, b.Name)
	}
	return 0, Errorf("found board %q, wanted %s", role, strings.Join(roles, " or "))
}

func text(b []byte) string {
	for i, c := range b {
		if c == 0 {
			return string(b[:i])
		}
	}
	return string(b)
}
