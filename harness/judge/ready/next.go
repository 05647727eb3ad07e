package ready

import (
	"cmp"
	"slices"
	"strings"
)

// dir is the folder of the records for command lines; of several the first.
func (s *survey) dir() string {
	var dirs []string
	for i := range s.flights {
		dirs = append(dirs, folder(s.flights[i].files[0]))
	}
	if len(dirs) == 0 {
		return "DIR"
	}
	return slices.Min(dirs)
}

// folder is that of a file, whose name has / between folders.
func folder(file string) string {
	switch i := strings.LastIndexByte(file, '/'); {
	case i > 0:
		return file[:i]
	case i == 0:
		return "/"
	}
	return "."
}

// beside is another folder next to that of the records.
func (s *survey) beside(what string) string {
	if d := s.dir(); d != "." {
		return d + "-" + what
	}
	return what
}

// paths are the scenarios to fly, for command lines.
func (s *survey) paths() []string {
	if s.sheet.Suite.Compared {
		return s.sheet.Suite.Paths
	}
	return []string{"SCENARIOS"}
}

// addresses are --board arguments for the boards that flew. If a role had several addresses, or none on record, it is
// ADDR, to be filled in by a person; never the mock by default.
func (s *survey) addresses() []string {
	var out []string
	for _, b := range s.sheet.Boards {
		out = append(out, b.Role+"="+s.addressOf(b.Role))
	}
	return out
}

func (s *survey) addressOf(role string) string {
	for _, b := range s.sheet.Boards {
		if b.Role == role && len(b.Addresses) == 1 {
			return b.Addresses[0].Name
		}
	}
	return "ADDR"
}

// fly is a command line that flies scenarios and keeps their records, for a board on a serial port with a rig.
func (s *survey) fly(paths []string, out string, boards []string, rig ...string) []string {
	words := append([]string{"drystage", "bench"}, paths...)
	for _, b := range boards {
		if _, address, _ := strings.Cut(b, "="); address != "mock" {
			words = append(words, "--board", b)
		}
		if strings.Contains(b, "=serial:") {
			rig = []string{"RIG"}
		}
	}
	for _, r := range rig {
		words = append(words, "--rig", r)
	}
	return append(words, "--out", out)
}

// again is a command line that flies a record's scenario again, on its boards.
func (s *survey) again(f *flight, more ...string) []string {
	var boards []string
	for _, x := range f.boards {
		boards = append(boards, x.role+"="+cmp.Or(x.address, "ADDR"))
	}
	words := s.fly([]string{f.file}, folder(f.files[0]), boards)
	if f.realTime {
		words = append(words, "--real-time")
	}
	if len(more) > 0 { // without --out, since it would replace the record
		words = slices.Concat(words[:slices.Index(words, "--out")], more, words[slices.Index(words, "--out")+2:])
	}
	return words
}
