// Package harness holds the data types of a run: plan, board, expectation, record, verdict, problem. They are plain
// data; the packages below this one read files, talk to boards, judge and report. It opens no port and no file and
// reads no clock.
package harness

import (
	"math"

	"drystage/sim"
)

// Plan is a scenario with all files read, all units converted and all defaults filled in.
type Plan struct {
	Name   string // the scenario's file name without folder and ending
	Title  string // one line for tables
	Story  string // the purpose of the scenario, for reports
	File   string // the path it was read from
	Digest string // SHA-256 of every file it was made of, in hex
	Files  []File // those files, in the order in which they were read
	Setup  sim.Setup
	Boards []Board // one per Setup.Bays, in that order
	Expect []Expectation
	// Accepts are the warnings of a flight outside its model that don't change the verdict.
	Accepts []sim.WarningKind `json:",omitempty"`
	Log     LogFile           `json:",omitzero"`
	Vary    []Vary            `json:",omitempty"` // what may differ from flight to flight; not applied to this one
	// Correlated are pairs of Vary that don't vary independently; vary.Joint says whether there is such a distribution.
	Correlated []Correlated `json:",omitempty"`
	Without    []string     `json:",omitempty"` // names of faults in the files that this flight leaves out; they aren't in Setup
	Set        []Value      `json:",omitempty"` // values of this flight that differ from the files; already in Setup
	Drawn      Drawn        `json:",omitzero"`  // which flight of a sweep this is
}

// File is a file that a plan was made from, with the path it was read from. It has the text, or for a flight log and
// its mapping, which may be large, the SHA-256 of the bytes in hex.
type File struct {
	Name string
	Text string `json:",omitzero"`
	Sum  string `json:",omitzero"`
}

// LogFile is a flight log whose samples the plan's only board gets instead of a simulated flight; an empty File means
// none. Without a Mapping the meaning of the columns is read from the log.
type LogFile struct{ File, Mapping string }

// Board is one flight computer of a plan; its place in the vehicle is in Setup.Bays.
type Board struct {
	Role     string // the bay's name
	Settings []Setting
	Lockstep bool // its clock can be driven by the harness
	Baud     int  // of its serial line
	// Answer is how long it may take for an answer; 0: AnswerLimit of its sensors.
	Answer sim.Time `json:",omitzero"`
	NMEA   NMEA     `json:",omitzero"`
}

// DefaultStart is the default date and time of the start of a run, for the receivers of boards.
const DefaultStart = "2026-01-01T12:00:00Z"

// NMEA is a board's extra input for the NMEA 0183 sentences of its GNSS receiver. The board's file says that it has
// one, the command line gives its address. A Rate of 0 means none.
type NMEA struct {
	Port      string   // a link's address; empty: nothing feeds the input
	Baud      int      // of a serial line whose address names none
	Rate      float64  // Hz, sets of sentences a second
	Talker    string   // two letters; empty: GP
	Sentences []string // of Sentences; empty: all
	Start     string   // of the run, in UTC as RFC 3339 has it; empty: DefaultStart
	Geoid     float64  `json:",omitzero"` // m, of sea level above the ellipsoid, that the receiver tells
}

// maxSentence is how many bytes a sentence takes at most (NMEA 0183, from memory).
const maxSentence = 82

// Needs is the bit rate in bit/s that the sentences need, at ten bits a byte: start, eight, stop.
func (n *NMEA) Needs() int {
	words := len(n.Sentences)
	if words == 0 {
		words = len(Sentences())
	}
	return int(math.Ceil(float64(10*maxSentence*words) * n.Rate))
}

// Sentences are the sentences that a receiver can send, in the order in which it sends them.
func Sentences() []string { return []string{"GGA", "RMC", "GSA", "VTG"} }

// Setting is one of a board's own settings, sent to it after the handshake. Value is in SI.
type Setting struct {
	Name  string
	Value float64
}

// Place is a place in a file. Line and Column count from 1; 0 is unknown.
type Place struct {
	File         string
	Line, Column int
}

// Problem is an error in a file, with what to do about it.
type Problem struct {
	Place
	Found  string // what is there
	Wanted string // what was expected
	Hint   string // the nearest right spelling, or the next step; may be empty
	See    string // the entry of the reference that tells more: `drystage explain SEE`; may be empty
}
