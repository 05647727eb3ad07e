package main

import (
	"bufio"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"drystage/harness"
	"drystage/harness/scenario"
	"drystage/scenarios"
)

// shippedFolder is where the embedded suite appears to be.
const shippedFolder = "scenarios"

// shipped is the embedded suite under its folder's name, so that its places read like those of a
// checkout.
type shipped struct{}

// Open opens a file of the embedded suite.
func (shipped) Open(name string) (fs.File, error) {
	inner, ok := strings.CutPrefix(name, shippedFolder+"/")
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return scenarios.Files.Open(inner)
}

// file is a scenario file and where it is read from.
type file struct {
	fsys fs.FS
	name string
}

// plansOf reads every scenario that paths mean, and gives all problems of all files at once.
func plansOf(paths []string) ([]harness.Plan, error) {
	found, err := find(paths)
	if err != nil {
		return nil, err
	}
	var plans []harness.Plan
	var problems []harness.Problem
	for _, f := range found {
		p, ps := scenario.Load(f.fsys, f.name)
		plans, problems = append(plans, p), append(problems, ps...)
	}
	if len(problems) > 0 {
		return nil, all(problems)
	}
	return plans, nil
}

// find lists the scenario files that paths mean: files themselves, and all scenarios below folders.
// No path means the shipped suite; a path that is not on the disk may name a shipped file.
func find(paths []string) ([]file, error) {
	if len(paths) == 0 {
		return below(shipped{}, ".", shippedFolder)
	}
	var out []file
	for _, p := range paths {
		info, err := os.Stat(p)
		name := filepath.ToSlash(p)
		switch {
		case err != nil && inSuite(path.Clean(name)):
			out = append(out, file{shipped{}, path.Clean(name)})
		case err != nil:
			return nil, wrongUse("no scenario at %s (%v); give a scenario file, a folder of them, or nothing for the shipped suite", p, err)
		case !info.IsDir():
			out = append(out, file{scenario.Disk{}, name})
		default:
			found, err := below(os.DirFS(p), ".", name)
			if err != nil {
				return nil, err
			}
			for i := range found {
				found[i].fsys = scenario.Disk{}
			}
			if len(found) == 0 {
				return nil, wrongUse("no scenario below %s: a scenario is a .yaml file whose first key is `drystage: scenario`", p)
			}
			out = append(out, found...)
		}
	}
	return out, nil
}

func inSuite(name string) bool {
	f, err := shipped{}.Open(name)
	if err != nil {
		return false
	}
	f.Close()
	return true
}

// below lists the scenarios in a tree; their names get prefix in front.
func below(fsys fs.FS, dir, prefix string) ([]file, error) {
	tree := fsys
	if _, ok := fsys.(shipped); ok {
		tree = scenarios.Files
	}
	var out []file
	err := fs.WalkDir(tree, dir, func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || !yamlFile(name) || kindOf(tree, name) != "scenario" {
			return err
		}
		out = append(out, file{fsys, path.Join(prefix, name)})
		return nil
	})
	return out, err
}

func yamlFile(name string) bool {
	return strings.HasSuffix(name, ".yaml") || strings.HasSuffix(name, ".yml")
}

// kindOf reads the kind that a file's first key tells; "" when it tells none.
func kindOf(fsys fs.FS, name string) string {
	f, err := fsys.Open(name)
	if err != nil {
		return ""
	}
	defer f.Close()
	for s := bufio.NewScanner(f); s.Scan(); {
		line := strings.TrimSpace(s.Text())
		if line == "" || strings.HasPrefix(line, "#") || line == "---" {
			continue
		}
		kind, ok := strings.CutPrefix(line, "drystage:")
		if !ok {
			return ""
		}
		return strings.TrimSpace(kind)
	}
	return ""
}
