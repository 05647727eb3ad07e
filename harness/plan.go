// Package harness holds the nouns of a run: plan, board, expectation, record, verdict, problem. They
// are plain data; the rooms below this one read files, speak to boards, judge and report. It never
// opens a port, a file or a clock.
package harness

import (
	"math"

	"drystage/sim"
)

// Plan is a scenario with every file read, every unit resolved and every default filled in.
type Plan struct {
	Name   string // the scenario's file name without folder and ending
	Title  string // one line for tables
	Story  string // why the scenario exists, for reports
	File   string // the path it was read from
	Digest string // SHA-256 of every file it was made of, in hex
	Files  []File // those files, in the order in which they were read
	Setup  sim.Setup
	Boards []Board // one per Setup.Bays, in that order
	Expect []Expectation
	// Accepts are the warnings of a flight outside its model that leave the verdict as it is.
	Accepts []sim.WarningKind `json:",omitempty"`
	Log     LogFile           `json:",omitzero"`
	Vary    []Vary            `json:",omitempty"` // what may differ from flight to flight; nothing in this one
	Set     []Value           `json:",omitempty"` // what does differ from the files in this one; Setup has it already
	Drawn   Drawn             `json:",omitzero"`  // the flight of a sweep that this is
}

// File is a file that a plan was made of, by the path it was read from: its text, or of a flight log, which
// may be large, and of its mapping the SHA-256 of the bytes in hex.
type File struct {
	Name string
	Text string `json:",omitzero"`
	Sum  string `json:",omitzero"`
}

// LogFile is a flight log whose samples a plan's only board is given in place of a simulated flight; an
// empty File: none. Mapping may be empty: what its columns mean is then read from the log.
type LogFile struct{ File, Mapping string }

// Board is what a plan says of one flight computer beyond its place in the vehicle.
type Board struct {
	Role     string // the bay's name
	Settings []Setting
	Lockstep bool // its clock can be driven by the harness
	Baud     int  // of its serial line
	// Answer is how long it may take for an answer; 0: AnswerLimit of its sensors.
	Answer sim.Time `json:",omitzero"`
	NMEA   NMEA     `json:",omitzero"`
}

// DefaultStart is the date and time at which a run begins for the receivers of boards that say no other.
const DefaultStart = "2026-01-01T12:00:00Z"

// NMEA is a board's input for the NMEA 0183 of its GNSS receiver, beside the contract. A board's file says that
// there is one, the command line where it is. A Rate of 0: the board has none.
type NMEA struct {
	Port      string   // a link's address; empty: nothing feeds the input
	Baud      int      // of a serial line whose address names none
	Rate      float64  // Hz, sets of sentences a second
	Talker    string   // two letters; empty: GP
	Sentences []string // of Sentences; empty: all
	Start     string   // of the run, in UTC as RFC 3339 has it; empty: DefaultStart
}

// maxSentence is how many bytes a sentence takes at most (NMEA 0183, from memory).
const maxSentence = 82

// Needs is the speed in bit/s of a line that carries the sentences, at ten bits a byte: start, eight, stop.
func (n *NMEA) Needs() int {
	words := len(n.Sentences)
	if words == 0 {
		words = len(Sentences())
	}
	return int(math.Ceil(float64(10*maxSentence*words) * n.Rate))
}

// Sentences are those that a receiver can speak, in the order in which it does.
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

// Problem is something wrong in a file, with what to do about it.
type Problem struct {
	Place
	Found  string // what stands there
	Wanted string // what was expected
	Hint   string // the nearest right spelling, or the next step; may be empty
}
