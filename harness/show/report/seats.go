package report

import (
	"fmt"
	"io"
	"slices"

	"drystage/harness"
)

// Boards writes a line for each role: where its board was. It begins every report for people, so that nobody
// takes the built-in board's flight for that of a real one.
func Boards(w io.Writer, seats []harness.BoardAddress) error {
	role := 0
	for _, s := range seats {
		role = max(role, columns(Plain(s.Role)))
	}
	for _, s := range seats {
		if _, err := fmt.Fprintf(w, "%s  %s\n", padRight(s.Role, role), Plain(address(s))); err != nil {
			return err
		}
	}
	return nil
}

func address(s harness.BoardAddress) string {
	if s.Address == "" {
		return "an address that is not on record"
	}
	return s.Address
}

// seats lists the boards of verdicts, each role with each of its addresses once.
func seats(vs []harness.Verdict) (list []harness.BoardAddress) {
	for i := range vs {
		for _, s := range vs[i].BoardAddresses {
			if !slices.Contains(list, s) {
				list = append(list, s)
			}
		}
	}
	return list
}

// boards begins a page.
func (p *page) boards(list []harness.BoardAddress) {
	Boards(p.w, list)
	if len(list) > 0 {
		p.line("")
	}
}
