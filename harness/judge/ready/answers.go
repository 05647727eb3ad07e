package ready

import (
	"fmt"
	"strconv"

	"drystage/harness"
)

// answers raises the scenarios that don't pass.
func (s *survey) answers() {
	for _, x := range s.sheet.Scenarios {
		if x.Answer == harness.Pass {
			continue
		}
		kind, word, files := Unsure, "is unsure", []string(nil)
		if x.Answer == harness.Fail {
			kind, word = Fails, "fails"
		}
		var troubles []harness.Finding
		for i := range s.flights {
			if f := &s.flights[i]; f.name == x.Name && f.answer == x.Answer {
				files = append(files, f.files[0])
				for _, t := range f.troubles {
					if t.Answer == x.Answer {
						troubles = append(troubles, t)
					}
				}
			}
		}
		text := x.Name + " " + word
		if len(troubles) > 0 {
			text += ": " + troubles[0].Text
		}
		if n := len(troubles) - 1; n > 0 {
			text += fmt.Sprintf("; and %d more", n)
		}
		s.ofScenario(kind, x.Name, Point{
			Text: text, Next: "find out why, mend it, fly it again", Scenarios: []string{x.Name},
			Command: append([]string{"drystage", "show"}, files...),
		})
	}
}

// runs raises what went wrong in runs: conflicts of boards and pins, restarts, lost frames, incomplete runs.
func (s *survey) runs() {
	names, in := s.group(func(f *flight) []string { return f.conflicts })
	for _, o := range names {
		s.raise(Conflicts, o, Point{
			Text: fmt.Sprintf("%s: board and pin tell different things, in %s", o, shortList(namesOf(in[o]))), Scenarios: namesOf(in[o]),
			Next: "look at the wire, the load and the output stage before anything burns", Command: []string{"drystage", "show", in[o][0].files[0]},
		})
	}
	names, in = s.group(rolesWhere(func(x *boardFlown) bool { return x.unasked > 0 }))
	for _, r := range names {
		s.raise(Restarts, r, Point{
			Text: fmt.Sprintf("%s restarted unasked, in %s", r, shortList(namesOf(in[r]))), Scenarios: namesOf(in[r]),
			Next: "look at its supply and its watchdog, and at what it logged before", Command: []string{"drystage", "show", in[r][0].files[0]},
		})
	}
	names, in = s.group(rolesWhere(func(x *boardFlown) bool { return !x.linkOK }))
	for _, r := range names {
		s.raise(FramesLost, r, Point{
			Text: fmt.Sprintf("%s: frames lost or corrupt, in %s", r, shortList(namesOf(in[r]))), Scenarios: namesOf(in[r]),
			Next: "look at cable, ground and line speed, and try the board by itself", Command: []string{"drystage", "contract", "--board", s.addressOf(r)},
		})
	}
	for i := range s.flights {
		f := &s.flights[i]
		if f.cut == "" {
			continue
		}
		s.raise(CutShort, f.name, Point{
			Text: f.name + " was cut short: " + f.cut, Scenarios: []string{f.name}, Next: "fly it again to its end", Command: s.again(f),
		})
	}
}

func rolesWhere(match func(*boardFlown) bool) func(*flight) []string {
	return func(f *flight) []string {
		var roles []string
		for i := range f.boards {
			if match(&f.boards[i]) {
				roles = append(roles, f.boards[i].role)
			}
		}
		return roles
	}
}

// closeCalls raises scenarios that pass with a small margin.
func (s *survey) closeCalls() {
	type call struct {
		f *flight
		c Call
	}
	least := map[string]call{}
	for i := range s.flights {
		f := &s.flights[i]
		if !f.proves() {
			continue
		}
		for _, c := range f.calls {
			if before, ok := least[f.name]; c.Finding.Share < CloseShare && (!ok || c.Finding.Share < before.c.Finding.Share) {
				least[f.name] = call{f, c}
			}
		}
	}
	for _, name := range sorted(least) {
		x := least[name]
		s.raise(CloseCall, name, Point{
			Text:      fmt.Sprintf("%s passes closely, with %.1f %% to spare (below %.0f %% is close): %s", name, 100*x.c.Finding.Share, 100*CloseShare, x.c.Finding.Text),
			Scenarios: []string{name}, Next: "know why it is so close; fly it with other seeds", Command: s.again(x.f, "--seed", strconv.FormatUint(x.f.seed+1, 10)),
		})
	}
}
