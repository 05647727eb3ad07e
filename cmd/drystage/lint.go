package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/harness/logs"
	"drystage/harness/show/report"
	"drystage/sim/world"
)

type lintCmd struct {
	Paths       []string `arg:"" optional:"" predictor:"file" help:"Files of any kind, or folders of them; without one, all of the project."`
	Annotations string   `placeholder:"FILE" type:"path" help:"Write the findings as workflow commands with file and line, for the page of a job."`
}

// Run checks the files and prints every finding.
func (c *lintCmd) Run(d *console) error {
	paths, err := c.paths(d)
	if err != nil {
		return err
	}
	found, err := lintable(d, paths)
	if err != nil {
		return err
	}
	seen := map[string]bool{} // a shared vehicle's finding is told once
	tell := func(ps []harness.Problem) (told []harness.Problem) {
		for _, p := range ps {
			if text := p.Error(); !seen[text] {
				seen[text] = true
				told = append(told, p)
				sayf(d.out, "%s\n", text)
			}
		}
		return told
	}
	wrong, doubtful := tell(found.Problems), tell(warnings(found))
	bad, warned := len(wrong), len(doubtful)
	if c.Annotations != "" {
		if err := c.annotate(wrong, doubtful); err != nil {
			return err
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
	if see := suite.See(found.Problems); see != "" {
		sayf(d.out, "%s\n", see)
	}
	if err := report.Foreign(d.out, found.Foreign, "checked"); err != nil {
		return err
	}
	if bad > 0 {
		return status{code: misused}
	}
	return nil
}

// annotate writes findings and warnings for the page of a job.
func (c *lintCmd) annotate(wrong, doubtful []harness.Problem) error {
	var list []report.Annotation
	add := func(p harness.Problem, fails bool) {
		at := p.Place
		p.Place = harness.Place{}
		list = append(list, report.Annotation{Place: at, Fails: fails, Title: "drystage lint", Text: p.Error()})
	}
	for _, p := range wrong {
		add(p, true)
	}
	for _, p := range doubtful {
		add(p, false)
	}
	if err := writeWhole(c.Annotations, func(w io.Writer) error { return report.WriteAnnotations(w, list) }); err != nil {
		return status{misused, err}
	}
	return nil
}

// paths gives what was named, or else the project's folder.
func (c *lintCmd) paths(d *console) ([]string, error) {
	if len(c.Paths) > 0 {
		return c.Paths, nil
	}
	p, err := d.project()
	if err == nil && p == nil {
		err = wrongUse("name the files to check; in a project, whose drystage.yaml is in this folder or above it, all are checked")
	}
	if err != nil {
		return nil, err
	}
	d.uses(p, "all files in "+path.Dir(p.File))
	return []string{path.Dir(p.File)}, nil
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
