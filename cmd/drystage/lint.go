package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"drystage/harness"
	"drystage/harness/scenario"
)

type lintCmd struct {
	Paths   []string `arg:"" optional:"" help:"Files of any kind, or folders of them."`
	Explain string   `placeholder:"KIND" help:"What a kind of fault, a part of a board, the weather or vary means, with units, defaults and ranges; faults, parts, weather and anchors give all."`
}

// Run checks the files and prints every finding.
func (c *lintCmd) Run(d *desk) error {
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
	names, err := lintable(c.Paths)
	if err != nil {
		return err
	}
	bad := 0
	seen := map[string]bool{} // a shared vehicle's finding is told once
	for _, name := range names {
		for _, p := range scenario.Lint(scenario.Disk{}, name) {
			if !seen[p.Error()] {
				seen[p.Error()] = true
				bad++
				fmt.Fprintln(d.out, p.Error())
			}
		}
	}
	if bad > 0 {
		fmt.Fprintf(d.out, "%s in %s\n", count(bad, "finding"), count(len(names), "file"))
		return status{code: misused}
	}
	fmt.Fprintf(d.out, "%s, no finding\n", count(len(names), "file"))
	return nil
}

// lintable lists the files that paths mean: each file as given, and below folders all that look like
// ours.
func lintable(paths []string) ([]string, error) {
	var names []string
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, status{misused, err}
		}
		if !info.IsDir() {
			names = append(names, filepath.ToSlash(p))
			continue
		}
		err = filepath.WalkDir(p, func(path string, e fs.DirEntry, err error) error {
			if err == nil && !e.IsDir() && (yamlFile(path) && kindOf(scenario.Disk{}, path) != "" || strings.HasSuffix(path, ".csv")) {
				names = append(names, filepath.ToSlash(path))
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	if len(names) == 0 {
		return nil, wrongUse("nothing to check: no .yaml file whose first key is `drystage:` and no motor .csv")
	}
	return names, nil
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// all joins problems into one error of status misused.
func all(ps []harness.Problem) error {
	errs := make([]error, len(ps))
	for i, p := range ps {
		errs[i] = p
	}
	return status{misused, errors.Join(errs...)}
}
