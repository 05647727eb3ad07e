package main

import (
	"io"
	"os"
	"path/filepath"

	"drystage/harness"
	"drystage/harness/files/suite"
)

type trustCmd struct {
	Dir      string `arg:"" optional:"" predictor:"file" default:"." help:"The project's folder, or one below it."`
	Withdraw bool   `help:"Trust it no more."`
}

// Help is what `drystage trust --help` says below the flags' summary.
func (trustCmd) Help() string {
	return `A project's file, drystage.yaml, may have been written by anybody. What reaches out of drystage in it, programs as boards,
ports, sockets and a rig, counts only after you have looked at it and said so here. The list is yours, in your folder for
settings; a project whose file or rig has changed since is not trusted. To have looked at a file is no confirmation that a
bench is inert: --inert is asked for as ever.`
}

// Run puts the project on the user's list, or takes it off.
func (c *trustCmd) Run(d *console) error {
	p, err := suite.Project(c.Dir)
	switch {
	case err != nil:
		return status{misused, err}
	case p == nil:
		return wrongUse("found no drystage.yaml in %s or above it; drystage new writes one", c.Dir)
	}
	list, err := suite.LoadTrust()
	if err != nil {
		return status{misused, err}
	}
	text, err := list.Set(p, !c.Withdraw)
	if err != nil {
		return status{misused, err}
	}
	if err := os.MkdirAll(filepath.Dir(list.File), 0o700); err != nil {
		return status{misused, err}
	}
	if err := writeWhole(list.File, func(w io.Writer) error { _, err := io.WriteString(w, text); return err }); err != nil {
		return status{misused, err}
	}
	if c.Withdraw {
		_, err := sayf(d.out, "%s is trusted no more.\n", p.File)
		return err
	}
	return tellDoors(d, p)
}

// tellDoors tells what a project may do from now on.
func tellDoors(d *console, p *harness.Project) error {
	sayf(d.out, "%s is trusted as it is now. It\n", p.File)
	n := 0
	for _, x := range append(p.Boards, p.NMEA...) {
		if what := opens(x.Address); what != "" {
			n++
			sayf(d.out, "  %s (%s)\n", what, x.Role)
		}
	}
	if p.Rig != "" {
		n++
		sayf(d.out, "  uses the rig %s\n", p.Rig)
	}
	if n == 0 {
		sayf(d.out, "  starts and opens nothing\n")
	}
	_, err := sayf(d.out, "Boards with real outputs are flown with dummy loads only, and after --inert, as ever.\n")
	return err
}
