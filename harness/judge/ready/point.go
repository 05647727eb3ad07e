package ready

import (
	"fmt"
	"slices"
	"strings"
)

// Point is an open point, and what to do next.
type Point struct {
	Kind Kind
	// Key identifies the point. More records may change its text; its key disappears only with proof.
	Key       string
	Text      string
	Next      string   // what to do, as a clause; may be empty
	Command   []string // a command line that does it, if there is one; words in CAPITALS are to be filled in
	Scenarios []string // where it was seen
}

// Kind is the kind of a Point.
type Kind uint8

// The kinds of open points, the most severe first.
const (
	Fails Kind = iota
	Conflicts
	Restarts
	Unsure
	CutShort
	FramesLost
	OtherVehicle // records that don't belong together
	OtherBoard
	OtherVersion
	OtherFiles // of one scenario
	BuiltIn    // boards that are no hardware
	Emulated
	NoAddress
	NotDemanded // outputs
	NeverFired
	NotTied
	LockstepOnly
	NoPin
	NotMeasured
	CloseCall
	Estimated
	NotCompared // with a suite
	Changed
	NoRecord // last, since there may be many
)

var kindWords = [...]string{
	"fails", "conflict", "restarts", "unsure", "cut_short", "frames_lost", "other_vehicle", "other_board", "other_version", "other_files",
	"built_in", "emulated", "no_address", "not_demanded", "never_fired", "not_tied", "lockstep_only", "no_pin", "not_measured",
	"close", "estimated", "not_compared", "changed", "no_record",
}

// String gives the word that other programs read.
func (k Kind) String() string { return kindWords[k] }

// Kinds lists all such words.
func Kinds() []string { return kindWords[:] }

// Set says that the kind is about records that don't belong together.
func (k Kind) Set() bool { return k >= OtherVehicle && k <= OtherFiles }

// CloseShare is the margin share below which a pass is close. Common practice, no source.
const CloseShare = 0.10

// survey checks the evidence and raises points.
type survey struct {
	flights []flight
	sheet   *Sheet
	found   []Point
}

// points lists all open points, the most severe first, then by what they are about.
func points(flights []flight, sheet *Sheet) []Point {
	s := &survey{flights: flights, sheet: sheet}
	s.answers()
	s.runs()
	s.sets()
	s.suite()
	s.hardware()
	s.outputs()
	s.devices()
	s.closeCalls()
	slices.SortStableFunc(s.found, func(a, b Point) int { return int(a.Kind) - int(b.Kind) })
	return s.found
}

// raise adds a point. about makes its key, together with its kind.
func (s *survey) raise(k Kind, about string, p Point) {
	p.Kind, p.Key, p.Scenarios = k, k.String()+" "+about, unique(p.Scenarios)
	s.found = append(s.found, p)
}

// ofScenario adds a point about a whole scenario, with one key whether it fails, is unsure or has no record.
func (s *survey) ofScenario(k Kind, name string, p Point) {
	s.raise(k, name, p)
	s.found[len(s.found)-1].Key = "scenario " + name
}

// group groups records by the names that matters gives for each, and gives the names in order with their records.
func (s *survey) group(matters func(*flight) []string) (names []string, in map[string][]*flight) {
	in = map[string][]*flight{}
	for i := range s.flights {
		for _, m := range unique(matters(&s.flights[i])) {
			in[m] = append(in[m], &s.flights[i])
		}
	}
	return sorted(in), in
}

func namesOf(fs []*flight) []string {
	var names []string
	for _, f := range fs {
		names = append(names, f.name)
	}
	return unique(names)
}

// shortList lists a few names and how many more there are.
func shortList(names []string) string {
	const few = 3
	if len(names) <= few+1 {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:few], ", "), len(names)-few)
}

// perGroup lists groups with some of their scenarios.
func perGroup(gs []Group) string {
	var parts []string
	for _, g := range gs {
		parts = append(parts, fmt.Sprintf("%s in %s", g.Name, shortList(g.Scenarios)))
	}
	return strings.Join(parts, "; ")
}
