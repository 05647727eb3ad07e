// Package logs reads flight logs: any table of text (comma, semicolon, tab or blanks between cells)
// with a mapping that says what each column means, NMEA 0183 sentences, and drystage's own records;
// it writes such a table, and plays a log to a board again as a sim.Source.
//
// Reading streams: a line is held at a time, and what it says is kept as the whole numbers that the
// contract sends to boards (mm/s2, urad/s, mPa, 1e-7 deg, mm, mm/s, mV), 4 bytes each, with 8 bytes per
// sample for its time. So memory is bounded by MostSamples times 40 bytes, whatever the file's
// size, and a board that is given the log again gets the very numbers that it would have got in flight.
//
// It never guesses in silence: what it proposes or mends is printed or noted with its line. It never
// judges a flight.
package logs

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// MostSamples is the greatest number of samples of all parts together in one log.
const MostSamples = 24 << 20

// Missing stands in Stream.Data for a value that a sample lacks.
const Missing = math.MinInt32

// Log is what the sensors of one board said in a flight, and what the board did.
type Log struct {
	Name     string
	Streams  [sim.PartBattery + 1]Stream // by sim.Part; the first is empty
	Outputs  []Output                    // edges, in order of time
	Commands []Command
	Own      Own
	Notes    []Note
	// Origin is what the log's own clock said at time 0, in s.
	Origin float64
}

// Stream is the samples of one part in order of time. A stream without samples was not in the log.
type Stream struct {
	Part  sim.Part
	Times []sim.Time
	Data  [][]int32 // by channel of the part, in counts of Channel.Count; nil: not in the log
}

// Output is an edge of an output that the log tells of.
type Output struct {
	Channel int
	Name    string
	On      bool
	At      sim.Time
}

// Command is an operator's command that the log tells of.
type Command struct {
	At   sim.Time
	What sim.Commands
}

// Own is what the board itself thought of the flight, as its log tells. Nothing is worked out from it.
type Own struct {
	Times  []sim.Time
	Speed  []int32 // mm/s upwards, at Times
	States []State // where another one begins
}

// State is a state that the board says it was in.
type State struct {
	At   sim.Time
	Word string
}

// Note is something about a log that was mended or left out in reading.
type Note struct {
	harness.Place
	Kind NoteKind
	At   sim.Time
	Text string
}

// NoteKind is the kind of a Note.
type NoteKind uint8

// The kinds of note.
const (
	Damage   NoteKind = iota // a cell or a line that can't be read, and was left out
	Cut                      // the last line ends early
	Repeated                 // a stamp as the one before: the later sample counts
	Backward                 // the clock went back
	Forward                  // the clock jumped ahead by more than a gap
	Wrapped                  // the clock's counter began again at 0
)

var noteNames = [...]string{"damage", "cut", "repeated", "clock back", "clock ahead", "clock wrapped"}

// String gives the word for the kind.
func (k NoteKind) String() string { return noteNames[k] }

// String gives the note with its place.
func (n Note) String() string { return fmt.Sprintf("%s: %s: %s", n.Place, n.Kind, n.Text) }

// Len is the number of samples.
func (s *Stream) Len() int { return len(s.Times) }

// Has says that the log has a channel of the part.
func (s *Stream) Has(channel int) bool { return channel < len(s.Data) && s.Data[channel] != nil }

// Value gives a channel of a sample in SI; ok is false when the sample lacks it.
func (s *Stream) Value(i, channel int) (x float64, ok bool) {
	if !s.Has(channel) || s.Data[channel][i] == Missing {
		return 0, false
	}
	return float64(s.Data[channel][i]) * channelsOf(s.Part)[channel].Count, true
}

// Period is the usual time between samples: the median. 0 with fewer than two samples.
func (s *Stream) Period() sim.Time {
	n := min(s.Len()-1, 4096)
	if n < 1 {
		return 0
	}
	gaps := make([]sim.Time, n)
	for i := range gaps {
		at := i * (s.Len() - 1) / n // spread over the log
		gaps[i] = s.Times[at+1] - s.Times[at]
	}
	slices.Sort(gaps)
	return gaps[n/2]
}

// Rows gives a stream of some of the samples, by their numbers.
func (s *Stream) Rows(keep []int) Stream {
	out := Stream{Part: s.Part, Times: make([]sim.Time, len(keep)), Data: make([][]int32, len(s.Data))}
	for k, i := range keep {
		out.Times[k] = s.Times[i]
	}
	for c, x := range s.Data {
		if x == nil {
			continue
		}
		out.Data[c] = make([]int32, len(keep))
		for k, i := range keep {
			out.Data[c][k] = x[i]
		}
	}
	return out
}

// Samples counts the samples of all parts.
func (l *Log) Samples() int {
	n := 0
	for i := range l.Streams {
		n += l.Streams[i].Len()
	}
	return n
}

// Span gives the times of the first and the last sample of any part.
func (l *Log) Span() (from, to sim.Time) {
	from, to = sim.Never, 0
	for i := range l.Streams {
		if s := &l.Streams[i]; s.Len() > 0 {
			from, to = min(from, s.Times[0]), max(to, s.Times[s.Len()-1])
		}
	}
	return from, to
}

// SortCommands puts commands that were added into order of time.
func (l *Log) SortCommands() {
	slices.SortStableFunc(l.Commands, func(a, b Command) int { return int(a.At - b.At) })
}
