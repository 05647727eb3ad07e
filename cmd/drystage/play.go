package main

import (
	"errors"
	"fmt"
	"io"

	"drystage/harness/board/mock"
)

// playCmd lets drystage itself be a board, such as in --board 'exec:drystage play'.
type playCmd struct {
	Defect string `help:"Play a board with this defect; bench --list-defects names them."`
}

// Run serves the contract until the other end goes away.
func (c *playCmd) Run(d *desk) error {
	err := mock.Serve(pipe{d.in, d.out}, c.Defect)
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("play: %w", err)
	}
	return nil
}

type pipe struct {
	io.Reader
	io.Writer
}
