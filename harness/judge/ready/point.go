package ready

import (
	"fmt"
	"slices"
	"strings"
)

// Point is something that is open, and what to do next.
type Point struct {
	Kind Kind
	// Key says what it is about. More records may change a point's words; only proof takes its key away.
	Key       string
	Text      string
	Next      string   // what to do, as a clause; may be empty
	Command   []string // the words of a command line that does it, if one does; CAPITALS are yours to fill in
	Scenarios []string // where it was seen
}

// Kind is the kind of a Point.
type Kind uint8

// The kinds of open points, the gravest first.
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

// Set says that records don't belong together.
func (k Kind) Set() bool { return k >= OtherVehicle && k <= OtherFiles }

// CloseShare is the margin share below which a scenario that passes is close. Common practice, no source.
const CloseShare = 0.10

// survey goes through the evidence and raises points.
type survey struct {
	flights []flight
	sheet   *Sheet
	found   []Point
}

// points lists all that is open, the gravest first, then by what it is about.
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

// ofScenario adds a point about a whole scenario: whether it fails, is unsure or has no record, it is one
// matter.
func (s *survey) ofScenario(k Kind, name string, p Point) {
	s.raise(k, name, p)
	s.found[len(s.found)-1].Key = "scenario " + name
}

// group gathers what records say of a matter, and gives the matters in order with the records of each.
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
