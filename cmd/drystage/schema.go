package main

import (
	"strings"

	"drystage/harness/files/scenario"
)

type schemaCmd struct {
	Kind string `arg:"" help:"vehicle, motor, board, scenario, rig or settings."`
}

// Run prints the schema.
func (c *schemaCmd) Run(d *desk) error {
	b, err := scenario.Schema(strings.ToLower(c.Kind))
	if err != nil {
		return err
	}
	_, err = d.out.Write(append(b, '\n'))
	return err
}
