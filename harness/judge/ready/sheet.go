package ready

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/judge/coverage"
)

// Sheet is the readiness sheet. The same records in any order make the same sheet.
type Sheet struct {
	harness.Count               // of scenarios
	By            harness.Maker // the version that judged
	Vehicles      []Group       // by name
	Days          Days          // of the scenarios that pass
	Versions      []Group       // of drystage, with Go and processor
	Boards        []Board
	Outputs       []Output
	Closest       []Call // the smallest shares of all, at most Calls
	Points        []Point
	Suite         Suite
	Scenarios     []Scenario
	Tried         coverage.Table
}

// Calls is how many of the smallest margins a sheet shows.
const Calls = 10

// Group is a name and its scenarios.
type Group struct {
	Name      string
	Scenarios []string
}

// Board is a role and the boards that flew in it.
type Board struct {
	Role      string
	Names     []Group // as given at the handshake
	Addresses []Group
}

// Call is a finding that has a margin.
type Call struct {
	Scenario, Record string
	RealTime         bool
	Finding          harness.Finding
}

// Scenario is all records of one scenario name.
type Scenario struct {
	Name    string
	Title   string
	Answer  harness.Answer // the worst of its records
	Records []Record
}

// Record is one record of a sheet.
type Record struct {
	Files    []string // several when copies of it were read
	Sum      string   // SHA-256, hex
	Digest   string   // SHA-256 of the scenario's files, hex
	Seed     uint64
	RealTime bool
	Answer   harness.Answer
}

// Sheet makes the sheet of the evidence.
func (e *Evidence) Sheet() Sheet {
	flights := slices.Clone(e.flights)
	for i := range flights {
		flights[i].files = slices.Sorted(slices.Values(flights[i].files))
	}
	slices.SortFunc(flights, func(a, b flight) int {
		return cmp.Or(cmp.Compare(a.name, b.name), cmp.Compare(a.file, b.file), order(a.realTime, b.realTime), cmp.Compare(a.seed, b.seed), cmp.Compare(a.sum, b.sum))
	})
	s := Sheet{
		By: e.By, Vehicles: groups(flights, func(f *flight) string { return f.vehicle }), Days: days(flights), Versions: groups(flights, version),
		Boards: boards(flights), Outputs: outputs(flights), Closest: closest(flights), Scenarios: scenarios(flights), Tried: e.tried,
	}
	for _, x := range s.Scenarios {
		s.Add(x.Answer)
	}
	s.Suite = e.suite.against(flights)
	s.Points = points(flights, &s)
	return s
}

func order(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

func version(f *flight) string {
	return fmt.Sprintf("drystage %s, %s, %s", f.made.Version, f.made.Go, f.made.Arch)
}

// groups groups flights by a name; an empty name is left out.
func groups(flights []flight, name func(*flight) string) []Group {
	in := map[string][]string{}
	for i := range flights {
		if n := name(&flights[i]); n != "" {
			in[n] = append(in[n], flights[i].name)
		}
	}
	var out []Group
	for _, n := range sorted(in) {
		out = append(out, Group{n, unique(in[n])})
	}
	return out
}

func sorted[V any](m map[string]V) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func unique(names []string) []string { return slices.Compact(slices.Sorted(slices.Values(names))) }

// boards lists the boards by role.
func boards(flights []flight) []Board {
	roles := map[string]bool{}
	for i := range flights {
		for _, s := range flights[i].boards {
			roles[s.role] = true
		}
	}
	var out []Board
	for _, role := range sorted(roles) {
		of := func(what func(*boardFlown) string) func(*flight) string {
			return func(f *flight) string {
				for i := range f.boards {
					if f.boards[i].role == role {
						return what(&f.boards[i])
					}
				}
				return ""
			}
		}
		out = append(out, Board{role, groups(flights, of(func(s *boardFlown) string { return s.name })), groups(flights, of(func(s *boardFlown) string { return s.address }))})
	}
	return out
}

// closest gives the findings with the smallest margin shares.
func closest(flights []flight) []Call {
	var all []Call
	for i := range flights {
		for _, c := range flights[i].calls {
			all = append(all, flights[i].from(c))
		}
	}
	slices.SortStableFunc(all, func(a, b Call) int { return cmp.Compare(a.Finding.Share, b.Finding.Share) })
	return all[:min(Calls, len(all))]
}

// from sets the record of a call.
func (f *flight) from(c Call) Call {
	c.Record = f.files[0]
	return c
}

// scenarios groups the records by scenario name.
func scenarios(flights []flight) []Scenario {
	var out []Scenario
	for i := range flights {
		f := &flights[i]
		if len(out) == 0 || out[len(out)-1].Name != f.name {
			out = append(out, Scenario{Name: f.name, Title: f.title, Answer: harness.Pass})
		}
		x := &out[len(out)-1]
		x.Records = append(x.Records, Record{Files: f.files, Sum: f.sum, Digest: f.digest, Seed: f.seed, RealTime: f.realTime, Answer: f.answer})
		if f.answer.Compare(x.Answer) < 0 {
			x.Answer = f.answer
		}
	}
	return out
}

// against finds the record of each file.
func (s Suite) against(flights []flight) Suite {
	s.Files = slices.Clone(s.Files)
	slices.SortFunc(s.Files, func(a, b SuiteFile) int { return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.File, b.File)) })
	for i := range s.Files {
		x := &s.Files[i]
		for k := range flights {
			if f := &flights[k]; f.name == x.Name {
				x.Flown = max(x.Flown, FlownBefore)
				if f.digest == x.Digest {
					x.Flown = FlownAsItIs
				}
			}
		}
	}
	return s
}

// Answer is fail if any scenario fails, else unsure if anything on the bench is open, else pass. The checks on the field
// don't count.
func (s *Sheet) Answer() harness.Answer {
	if a := s.Count.Answer(); a != harness.Pass || len(s.Points) == 0 {
		return a
	}
	return harness.Unsure
}

// Inputs lists the inputs of the sheet as lines of text in a fixed order: the SHA-256 of each record, then name and
// digest of each scenario file that it was compared with. The SHA-256 of these lines identifies the sheet.
func (s *Sheet) Inputs() string {
	var lines []string
	for _, x := range s.Scenarios {
		for _, r := range x.Records {
			lines = append(lines, "record "+r.Sum+"\n")
		}
	}
	for _, f := range s.Suite.Files {
		lines = append(lines, "scenario "+f.Digest+" "+f.Name+"\n")
	}
	slices.Sort(lines)
	return strings.Join(lines, "")
}
