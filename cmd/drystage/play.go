package main

import (
	"errors"
	"io"

	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
)

// playCmd makes drystage a board, as in --board 'exec:drystage play'.
type playCmd struct {
	Defect       string `help:"Play a board with this defect; bench --list-defects names them."`
	ListSettings bool   `help:"List the settings that a board file can give this board, in the form of a list of your own, and leave."`
}

// Run serves the contract until the other end goes away.
func (c *playCmd) Run(d *console) error {
	if c.ListSettings {
		_, err := io.WriteString(d.out, scenario.SettingsText("the built-in board", mock.Settings()))
		return err
	}
	ended := make(chan error, 1)
	go func() { ended <- mock.Serve(pipe{d.in, raw(d.out)}, c.Defect) }()
	select {
	case <-d.ctx.Done():
		return status{unsure, errors.New("play: interrupted")}
	case err := <-ended:
		if err != nil && !errors.Is(err, io.EOF) {
			return errorf("play: %w", err)
		}
		return nil
	}
}

type pipe struct {
	io.Reader
	io.Writer
}
