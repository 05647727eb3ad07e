package suite

import (
	"os"
	"path"
	"path/filepath"
	"strings"

	"drystage/harness"
	"drystage/harness/files/scenario"
)

// Project finds the project's file of a folder or of the nearest one above it, and reads it. Its paths are as seen from
// the folder. nil without an error: there is none.
func Project(dir string) (*harness.Project, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	for here := abs; ; here = filepath.Dir(here) {
		name := filepath.Join(here, scenario.ProjectFile)
		if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() {
			if rel, err := filepath.Rel(abs, name); err == nil {
				name = filepath.Join(dir, rel)
			}
			p, is, err := readProject(OnDisk(name))
			if err != nil || is {
				return p, err
			}
		}
		if here == filepath.Dir(here) {
			return nil, nil
		}
	}
}

// readProject reads a file of that name, which may also be a scenario or none of ours.
func readProject(f File) (p *harness.Project, is bool, err error) {
	kind, problems := scenario.Kind(f.FS, f.Name)
	if len(problems) > 0 {
		return nil, false, Joined(problems)
	}
	if kind != "project" {
		return nil, false, nil
	}
	found, problems := scenario.LoadProject(f.FS, f.Name)
	if len(problems) > 0 {
		return nil, true, Joined(problems)
	}
	return &found, true, nil
}

// WithinProject refuses a path of a project that a link leads out of the project's folder.
func WithinProject(p *harness.Project, name string) error {
	top, err := realPath(path.Dir(p.File))
	if err != nil {
		return err
	}
	there := name // or what is there of it
	for there != filepath.Dir(there) {
		if _, err := os.Lstat(there); err == nil {
			break
		}
		there = filepath.Dir(there)
	}
	real, err := realPath(there)
	if err != nil {
		return err
	}
	if rel, err := filepath.Rel(top, real); err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return harness.Errorf("%s: %s leads out of the project's folder, to %s; name it on the command line if you mean it", p.File, name, real)
	}
	return nil
}

// realPath gives a whole path without links.
func realPath(name string) (string, error) {
	abs, err := filepath.Abs(name)
	if err != nil {
		return "", err
	}
	return filepath.EvalSymlinks(abs)
}
