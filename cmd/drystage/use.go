package main

import (
	"strings"

	"drystage/harness"
	"drystage/harness/files/scenario"
)

// boardUse is how a scenario's file uses a board.
type boardUse struct {
	board    string // the board's file
	settings string // over those of the board's file, as a flow mapping
}

// useOf reads a scenario on the disk again for names that are not in its plan.
func useOf(p *harness.Plan, bay int) (boardUse, error) {
	file, settings, problems := scenario.Use(scenario.Disk{}, p.File, p.Boards[bay].Role)
	if len(problems) > 0 {
		return boardUse{}, wrongUse("%w; a written scenario refers to it, so copy it to the disk first", problemsError(problems))
	}
	var words []string
	for _, s := range settings {
		words = append(words, s[0]+": "+s[1])
	}
	u := boardUse{board: file}
	if len(words) > 0 {
		u.settings = "{" + strings.Join(words, ", ") + "}"
	}
	return u, nil
}
