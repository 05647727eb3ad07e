package main

import (
	"strings"

	"drystage/harness"
	"drystage/harness/files/scenario"
)

// use is how a scenario uses a board, as its file says it.
type use struct {
	board    string // the board's file
	settings string // over those of the board's file, as a flow mapping
}

// useOf reads a checked scenario on the disk again for the names that a plan doesn't keep.
func useOf(p *harness.Plan, bay int) (use, error) {
	file, settings, problems := scenario.Use(scenario.Disk{}, p.File, p.Boards[bay].Role)
	if len(problems) > 0 {
		return use{}, wrongUse("%w; a written scenario refers to it, so copy it to the disk first", all(problems))
	}
	var words []string
	for _, s := range settings {
		words = append(words, s[0]+": "+s[1])
	}
	u := use{board: file}
	if len(words) > 0 {
		u.settings = "{" + strings.Join(words, ", ") + "}"
	}
	return u, nil
}
