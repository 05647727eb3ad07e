package ready

import (
	"cmp"
	"fmt"
	"slices"
)

// sets raises records that don't belong together: of different vehicles, boards, versions or files.
func (s *survey) sets() {
	if gs := s.sheet.Vehicles; len(gs) > 1 {
		s.raise(OtherVehicle, "", Point{
			Text: fmt.Sprintf("the records are of %d vehicles: %s", len(gs), perGroup(gs)),
			Next: "make one sheet for each, of its own records", Scenarios: ofGroups(gs),
		})
	}
	for _, b := range s.sheet.Boards {
		if gs := b.Names; len(gs) > 1 {
			s.raise(OtherBoard, b.Role, Point{
				Text: fmt.Sprintf("%d boards sat as %s: %s", len(gs), b.Role, perGroup(gs)),
				Next: "leave out the records of the board that will not fly", Scenarios: ofGroups(gs),
			})
		}
	}
	by := s.sheet.By.Version
	if gs := groups(s.flights, func(f *flight) string { return release(f.made.Version) }); len(gs) > 1 || len(gs) == 1 && gs[0].Name != release(by) {
		others := slices.DeleteFunc(gs, func(g Group) bool { return g.Name == release(by) })
		s.raise(OtherVersion, "", Point{
			Text: fmt.Sprintf("this is %s, which judges by its own rules, and another version made records: %s", release(by), perGroup(others)),
			Next: "fly them again with this one", Scenarios: ofGroups(others),
		})
	}
	for _, x := range s.sheet.Scenarios {
		digests := map[string]bool{}
		for _, r := range x.Records {
			digests[r.Digest] = true
		}
		if len(digests) > 1 {
			s.raise(OtherFiles, x.Name, Point{
				Text: fmt.Sprintf("the records of %s are of %d different states of its files", x.Name, len(digests)),
				Next: "leave out those of the old ones", Scenarios: []string{x.Name},
			})
		}
	}
}

// release names a version of drystage.
func release(of string) string { return "drystage " + cmp.Or(of, "of an unknown version") }

func ofGroups(gs []Group) []string {
	var names []string
	for _, g := range gs {
		names = append(names, g.Scenarios...)
	}
	return names
}

// suite raises scenario files without a record, and those that have changed since.
func (s *survey) suite() {
	if !s.sheet.Suite.Compared {
		s.raise(NotCompared, "", Point{
			Text: "no suite was named, so nothing tells whether a scenario is missing or has changed since",
			Next: "name the scenario files that must be covered", Command: []string{"drystage", "ready", s.dir(), "--suite", "SCENARIOS"},
		})
	}
	for _, x := range s.sheet.Suite.Files {
		p := Point{Scenarios: []string{x.Name}, Command: s.fly([]string{x.File}, s.dir(), s.addresses())}
		switch x.Flown {
		case NotFlown:
			p.Text = x.Name + " has no record"
			s.ofScenario(NoRecord, x.Name, p)
		case FlownBefore:
			p.Text = x.Name + " was flown, but its files have changed since"
			s.ofScenario(Changed, x.Name, p)
		}
	}
}
