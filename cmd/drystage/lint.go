package main

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/harness/logs"
	"drystage/harness/show/report"
	"drystage/sim/world"
)

type lintCmd struct {
	Paths   []string `arg:"" optional:"" predictor:"file" help:"Files of any kind, or folders of them."`
	Explain string   `placeholder:"KIND" help:"What a kind of fault, a part of a board, the weather, vary or the mapping of a log means, with units, defaults and ranges; faults, parts, weather, anchors and warnings give all."`
}

// Run checks the files and prints every finding.
func (c *lintCmd) Run(d *console) error {
	if c.Explain == scenario.Mapping {
		_, err := fmt.Fprint(d.out, logs.Explain())
		return err
	}
	if c.Explain != "" {
		text, err := scenario.Explain(c.Explain)
		if err != nil {
			return status{misused, err}
		}
		_, err = fmt.Fprint(d.out, text)
		return err
	}
	if len(c.Paths) == 0 {
		return wrongUse("name the files to check, or use --explain KIND")
	}
	found, err := lintable(d, c.Paths)
	if err != nil {
		return err
	}
	bad := 0
	seen := map[string]bool{} // a shared vehicle's finding is told once
	for _, p := range found.Problems {
		if !seen[p.Error()] {
			seen[p.Error()] = true
			bad++
			sayf(d.out, "%s\n", p.Error())
		}
	}
	warned := 0
	for _, p := range warnings(found) {
		if !seen[p.Error()] {
			seen[p.Error()] = true
			warned++
			sayf(d.out, "%s\n", p.Error())
		}
	}
	if warned > 0 {
		defer func() {
			sayf(d.out, "%s; a warning leaves the exit status as it is\n", count(warned, "warning"))
		}()
	}
	if bad > 0 {
		sayf(d.out, "%s in %s\n", count(bad, "finding"), count(len(found.Files), "file"))
	} else {
		sayf(d.out, "%s, no finding\n", count(len(found.Files), "file"))
	}
	if err := report.Foreign(d.out, found.Foreign, "checked"); err != nil {
		return err
	}
	if bad > 0 {
		return status{code: misused}
	}
	return nil
}

// warnings lists events that scenarios wait for, but that don't happen in an ideal flight.
func warnings(c *suite.Listing) (list []harness.Problem) {
	for i, f := range c.Files {
		if c.Kinds[i] == "scenario" {
			list = append(list, scenario.Unreached(f.FS, f.Name, world.Rehearse)...)
		}
	}
	return list
}

// lintable checks the files that paths mean: each file as given, and below folders all that are ours. A table
// is a motor's file when its header says so or a vehicle names it.
func lintable(d *console, paths []string) (*suite.Listing, error) {
	c := &suite.Listing{Tables: true}
	for _, p := range paths {
		f, info, err := suite.Locate(p, d.err)
		switch {
		case err != nil:
			return nil, status{misused, err}
		case info.IsDir():
			c.Below(f)
		default:
			kind, _ := scenario.Kind(f.FS, f.Name)
			c.Add(f, kind)
		}
	}
	var read []string
	for i, f := range c.Files {
		problems, files := lintFile(f, c.Kinds[i])
		c.Problems, read = append(c.Problems, problems...), append(read, files...)
	}
	c.Foreign = slices.DeleteFunc(c.Foreign, func(name string) bool { return slices.Contains(read, name) })
	if len(c.Files) == 0 && len(c.Problems) == 0 {
		return nil, wrongUse("nothing to check: no .yaml file whose first key is `drystage:` and no motor .csv%s", c.Others())
	}
	return c, nil
}

// lintFile checks one file, and names the files that were read for it.
func lintFile(f suite.File, kind string) ([]harness.Problem, []string) {
	if kind != scenario.Mapping {
		return scenario.Check(f.FS, f.Name)
	}
	text, err := fs.ReadFile(f.FS, f.Name)
	if err == nil {
		_, err = logs.ReadMapping(text, f.Name)
	}
	if err == nil {
		return nil, nil
	}
	var p harness.Problem
	if !errors.As(err, &p) {
		p = harness.Problem{Place: harness.Place{File: f.Name}, Found: err.Error(), Wanted: "a mapping file"}
	}
	return []harness.Problem{p}, nil
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
