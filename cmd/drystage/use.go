package main

import (
	"encoding/json"
	"path"

	"github.com/goccy/go-yaml"

	"drystage/harness"
	"drystage/harness/disk"
)

// use is how a scenario uses a board, as its file says it.
type use struct {
	board    string // the board's file
	settings string // over those of the board's file, as a flow mapping
}

// useOf reads a checked scenario on the disk again for the names that a plan doesn't keep.
func useOf(p *harness.Plan, bay int) (use, error) {
	for name := p.File; name != ""; {
		text, err := disk.Read(name)
		if err != nil {
			return use{}, wrongUse("%s is not on the disk; a written scenario refers to it, so copy it there first", name)
		}
		var s struct {
			Like   string `yaml:"like"`
			Boards map[string]struct {
				File     string         `yaml:"file"`
				Settings map[string]any `yaml:"settings"`
			} `yaml:"boards"`
		}
		if err := yaml.Unmarshal(text, &s); err != nil {
			return use{}, status{misused, err}
		}
		if b, ok := s.Boards[p.Boards[bay].Role]; ok {
			u := use{board: path.Join(path.Dir(name), b.File)}
			if len(b.Settings) > 0 {
				flow, err := json.Marshal(b.Settings) // JSON is YAML, and its keys come in order
				if err != nil {
					return use{}, status{misused, err}
				}
				u.settings = string(flow)
			}
			return u, nil
		}
		if s.Like == "" {
			break
		}
		name = path.Join(path.Dir(name), s.Like)
	}
	return use{}, wrongUse("%s does not say which file its board %s has", p.File, p.Boards[bay].Role)
}
