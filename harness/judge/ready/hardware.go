package ready

import (
	"fmt"
	"slices"
	"strings"
)

// notHardware says what flights on anything but hardware prove.
var notHardware = []struct {
	kind Kind
	says string
}{
	{BuiltIn, "the built-in mock flew, which proves nothing of a real board"},
	{Emulated, "a program or an emulator flew, which proves the logic and not the hardware"},
	{NoAddress, "where the board was is not on record, so nothing tells whether it was one"},
}

// hardwareOf says from its address that a board isn't hardware, and what it is instead.
func hardwareOf(address string) (k Kind, none bool) {
	switch scheme, _, _ := strings.Cut(address, ":"); scheme {
	case "serial":
		return 0, false
	case "mock":
		return BuiltIn, true
	case "exec", "unix", "tcp":
		return Emulated, true
	}
	return NoAddress, true
}

// hardware raises boards that aren't real hardware, and boards that never flew in real time.
func (s *survey) hardware() {
	for _, x := range notHardware {
		var roles, boards []string
		at := map[string][]string{} // scenarios by address
		for _, b := range s.sheet.Boards {
			gs := s.ofKind(&b, x.kind)
			if len(gs) == 0 {
				continue
			}
			roles, boards = append(roles, b.Role), append(boards, b.Role+"=serial:PORT")
			for _, g := range gs {
				at[g.Name] = append(at[g.Name], g.Scenarios...)
			}
		}
		if len(roles) == 0 {
			continue
		}
		var gs []Group
		for _, address := range sorted(at) {
			gs = append(gs, Group{address, unique(at[address])})
		}
		s.raise(x.kind, "", Point{
			Text: fmt.Sprintf("%s: %s (%s)", strings.Join(roles, ", "), x.says, perGroup(gs)), Scenarios: ofGroups(gs),
			Next:    "fly the same scenarios on the board that will fly, and make the sheet of those records",
			Command: s.fly(s.paths(), s.beside("board"), boards),
		})
	}
	var never []string
	for _, b := range s.sheet.Boards {
		if !slices.ContainsFunc(s.flights, func(f flight) bool { return f.proves() && f.realTime && f.carries(b.Role) }) {
			never = append(never, b.Role)
		}
	}
	if len(never) > 0 {
		s.raise(LockstepOnly, "", Point{
			Text: strings.Join(never, ", ") + ": nothing passed in real time, by the board's own clock", Next: "fly in real time",
			Command: append(s.fly(s.paths(), s.dir()+"/real-time", s.addresses()), "--real-time"),
		})
	}
}

func (f *flight) carries(role string) bool {
	return slices.ContainsFunc(f.boards, func(x boardFlown) bool { return x.role == role })
}

// ofKind gives a board's addresses of one kind that aren't hardware.
func (s *survey) ofKind(b *Board, kind Kind) []Group {
	gs := slices.DeleteFunc(slices.Clone(b.Addresses), func(g Group) bool {
		k, none := hardwareOf(g.Name)
		return !none || k != kind
	})
	if in := s.unaddressed(b.Role); kind == NoAddress && len(in) > 0 {
		gs = append(gs, Group{"no address", in})
	}
	return gs
}

// unaddressed lists the scenarios in which a role has no address.
func (s *survey) unaddressed(role string) []string {
	var names []string
	for i := range s.flights {
		for _, x := range s.flights[i].boards {
			if x.role == role && x.address == "" {
				names = append(names, s.flights[i].name)
			}
		}
	}
	return unique(names)
}

// outputs raises outputs without expectations, that never fired, or without measured times.
func (s *survey) outputs() {
	for i := range s.sheet.Outputs {
		o := &s.sheet.Outputs[i]
		name := o.Role + "." + o.Name
		if len(o.Demands) == 0 {
			s.raise(NotDemanded, name, Point{
				Text: fmt.Sprintf("%s (%s): no scenario that passes demands anything of it", name, o.Does),
				Next: "write when it must fire, and when never, into a scenario under expect",
			})
		}
		if o.Fired == 0 {
			s.raise(NeverFired, name, Point{
				Text: fmt.Sprintf("%s (%s): it fired in no scenario that passes", name, o.Does),
				Next: "fly a scenario in which it must fire",
			})
		}
		if o.RealTime > 0 && !o.seenByPin() {
			s.raise(NoPin, name, Point{
				Text: fmt.Sprintf("%s: in real time no time of it rests on a pin, only on the board's word", name),
				Next: "put a pin at the output, measure it, and fly on the rig", Command: append(s.fly(s.paths(), s.dir()+"/real-time", s.addresses(), "RIG"), "--real-time"),
			})
		}
	}
	names, in := s.group(func(f *flight) (names []string) {
		for _, u := range f.unmeasured {
			names = append(names, u.output)
		}
		return names
	})
	for _, o := range names {
		k := slices.IndexFunc(in[o][0].unmeasured, func(u unmeasured) bool { return u.output == o })
		u := in[o][0].unmeasured[k]
		s.raise(NotMeasured, o, Point{
			Text: fmt.Sprintf("%s: %s, in %s", o, u.why, shortList(namesOf(in[o]))), Next: u.next, Scenarios: namesOf(in[o]),
		})
	}
}

// devices raises devices without an output, and inertias that weren't measured.
func (s *survey) devices() {
	tied := map[string]bool{}
	for i := range s.flights {
		if f := &s.flights[i]; f.proves() {
			for _, t := range f.connected {
				tied[f.vehicle+"\x00"+t] = true
			}
		}
	}
	names, in := s.group(func(f *flight) (open []string) {
		for _, n := range f.needs {
			if key := f.vehicle + "\x00" + n; !tied[key] {
				open = append(open, key)
			}
		}
		return open
	})
	for _, key := range names {
		vehicle, what, _ := strings.Cut(key, "\x00")
		s.raise(NotTied, vehicle+" "+what, Point{
			Text: fmt.Sprintf("%s of %s: no output in a scenario that passes acts on it", what, vehicle), Scenarios: namesOf(in[key]),
			Next: "give it an output in a board's file, or know what else fires it and test that by itself",
		})
	}
	names, in = s.group(func(f *flight) []string {
		if len(f.estimated) == 0 {
			return nil
		}
		return []string{f.vehicle + "\x00" + strings.Join(f.estimated, ", ")}
	})
	for _, key := range names {
		vehicle, stages, _ := strings.Cut(key, "\x00")
		s.raise(Estimated, vehicle+" "+stages, Point{
			Text: fmt.Sprintf("%s: inertia of %s estimated from a solid cylinder, not measured", vehicle, stages), Scenarios: namesOf(in[key]),
			Next: "measure it (swing it on two threads), write it into the vehicle's file, fly again",
		})
	}
}
