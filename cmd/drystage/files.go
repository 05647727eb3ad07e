package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/scenarios"
)

// shippedFolder is where the embedded suite appears to be.
const shippedFolder = "scenarios"

// shipped is the embedded suite under its folder's name, so that its places read like those of a
// checkout.
type shipped struct{}

// Open opens a file or folder of the embedded suite.
func (shipped) Open(name string) (fs.File, error) {
	inner, ok := strings.CutPrefix(name+"/", shippedFolder+"/")
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return scenarios.Files.Open(path.Clean(inner))
}

// file is a file and where it is read from.
type file struct {
	fsys fs.FS
	name string
}

// locate finds what a path means, the one rule for all commands: what is on the disk, or else a shipped file
// or folder of that name, which is told.
func locate(d *desk, p string) (file, fs.FileInfo, error) {
	f := file{scenario.Disk{}, path.Clean(filepath.ToSlash(p))}
	info, err := os.Stat(p)
	if errors.Is(err, fs.ErrNotExist) {
		if own, serr := fs.Stat(shipped{}, f.name); serr == nil {
			sayf(d.err, "%s is not on this disk; the shipped one is used\n", p)
			return file{shipped{}, f.name}, own, nil
		}
	}
	return f, info, err
}

// suite is all scenarios that paths mean.
type suite struct {
	plans   []harness.Plan
	foreign []string // YAML files below the folders that are none of ours
}

// plansOf reads every scenario that paths mean, and gives all problems of all files at once.
func plansOf(d *desk, paths []string) (suite, error) {
	c, err := find(d, paths)
	if err != nil {
		return suite{}, err
	}
	s := suite{foreign: c.foreign}
	for _, f := range c.of("scenario") {
		p, ps := scenario.Load(f.fsys, f.name)
		s.plans, c.problems = append(s.plans, p), append(c.problems, ps...)
	}
	if len(c.problems) > 0 {
		return suite{}, all(c.problems)
	}
	return s, nil
}

// find lists the files that paths mean: files themselves, which are taken for scenarios, and all below
// folders. No path means the shipped suite.
func find(d *desk, paths []string) (*census, error) {
	c := &census{}
	if len(paths) == 0 {
		c.walk(file{shipped{}, shippedFolder})
		return c, nil
	}
	for _, p := range paths {
		f, info, err := locate(d, p)
		switch {
		case err != nil:
			return nil, wrongUse("no scenario at %s (%v); give a scenario file, a folder of them, or nothing for the shipped suite", p, err)
		case !info.IsDir():
			c.add(f, "scenario")
		default:
			n := len(c.of("scenario"))
			c.walk(f)
			if len(c.of("scenario")) == n && len(c.problems) == 0 {
				return nil, wrongUse("no scenario below %s: a scenario is a .yaml file whose first key is `drystage: scenario`%s", p, besideFiles(c.foreign))
			}
		}
	}
	return c, nil
}

// one finds the only file of a kind that a path means.
func one(d *desk, flag, p string) (file, error) {
	f, info, err := locate(d, p)
	if err == nil && info.IsDir() {
		return f, wrongUse("%s%s is a folder; wanted one file", flag, p)
	}
	if err != nil {
		return f, wrongUse("%sno file at %s (%v)", flag, p, err)
	}
	return f, nil
}

// besideFiles tells of files that are none of ours, for an error.
func besideFiles(foreign []string) string {
	if len(foreign) == 0 {
		return ""
	}
	return fmt.Sprintf("; %s none of drystage's: %s", count(len(foreign), "file"), strings.Join(foreign, ", "))
}

// census is what was found on the disk, each file once.
type census struct {
	files    []file
	kinds    []string // of files
	foreign  []string // none of ours
	problems []harness.Problem
	tables   bool // look at tables too, which may be motors
}

func (c *census) add(f file, kind string) {
	if !slices.Contains(c.files, f) {
		c.files, c.kinds = append(c.files, f), append(c.kinds, kind)
	}
}

// of gives the files of a kind.
func (c *census) of(kind string) []file {
	var out []file
	for i, f := range c.files {
		if c.kinds[i] == kind {
			out = append(out, f)
		}
	}
	return out
}

// walk looks at all files below a folder.
func (c *census) walk(f file) { (&walk{each: c.look, broken: c.broken}).below(f) }

func (c *census) look(f file) {
	if !scenario.IsYAML(f.name) && !(c.tables && scenario.IsTable(f.name)) {
		return
	}
	kind, problems := scenario.Kind(f.fsys, f.name)
	c.problems = append(c.problems, problems...)
	switch {
	case len(problems) > 0:
	case kind == scenario.Foreign:
		c.foreign = append(c.foreign, f.name)
	default:
		c.add(f, kind)
	}
}

// broken notes what can't be looked at: it may be, or hold, a scenario.
func (c *census) broken(f file, err error) {
	c.problems = append(c.problems, harness.Problem{Place: harness.Place{File: f.name}, Found: cause(err), Wanted: "a file or folder that can be read", Hint: "what it holds may be a scenario"})
}

// cause is what an error of a file says beside the file's name.
func cause(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}
