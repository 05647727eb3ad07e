// Package suite finds scenario files and what belongs to them: on the disk, or in the suite that drystage ships. It
// opens files and nothing else.
package suite

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/harness/files/scenario"
	"drystage/harness/setting"
	"drystage/scenarios"
)

// Folder is where the shipped suite appears to be.
const Folder = "scenarios"

// shipped is the embedded suite under its folder's name, so that its places read like those of a checkout.
type shipped struct{}

// Open opens a file or folder of the embedded suite.
func (shipped) Open(name string) (fs.File, error) {
	inner, ok := strings.CutPrefix(name+"/", Folder+"/")
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return scenarios.Files.Open(path.Clean(inner))
}

// File is a file and where it is read from.
type File struct {
	FS   fs.FS
	Name string
}

// OnDisk gives a file or folder of the disk.
func OnDisk(name string) File { return File{scenario.Disk{}, path.Clean(filepath.ToSlash(name))} }

// Locate finds what a path means: what is on the disk, or else a shipped file or folder of that name, which is
// told on notes.
func Locate(p string, notes io.Writer) (File, fs.FileInfo, error) {
	f := OnDisk(p)
	info, err := os.Stat(p)
	if errors.Is(err, fs.ErrNotExist) {
		if own, serr := fs.Stat(shipped{}, f.Name); serr == nil {
			fmt.Fprintf(notes, "%s is not on this disk; the shipped one is used\n", harness.Printable(p))
			return File{shipped{}, f.Name}, own, nil
		}
		near := cmp.Or(disk.Like(f.FS, f.Name), disk.Like(shipped{}, f.Name))
		if near != "" {
			err = fmt.Errorf("%w; did you mean %s?", err, harness.Printable(near))
		}
	}
	return f, info, err
}

// Shipped finds a scenario of the shipped suite by its name, with or without folder and ending.
func Shipped(name string) (File, error) {
	f := File{shipped{}, path.Join(Folder, strings.TrimSuffix(path.Base(filepath.ToSlash(name)), ".yaml")+".yaml")}
	if _, err := fs.Stat(f.FS, f.Name); err != nil {
		return f, harness.Errorf("found no shipped scenario %q; drystage bench --list names all", name)
	}
	return f, nil
}

// One finds the only file that a path means. flag, such as "--rig ", stands before the path in errors.
func One(flag, p string, notes io.Writer) (File, error) {
	f, info, err := Locate(p, notes)
	if err == nil && info.IsDir() {
		return f, harness.Errorf("%s%s is a folder; wanted one file", flag, p)
	}
	if err != nil {
		return f, harness.Errorf("%sno file at %s (%w)", flag, p, err)
	}
	return f, nil
}

// Suite is all scenarios that paths mean.
type Suite struct {
	Plans   []harness.Plan
	Foreign []string // YAML files below the folders that are not drystage's
}

// Load reads every scenario that paths mean, and gives all problems of all files at once. No path means the
// shipped suite.
func Load(paths []string, notes io.Writer) (Suite, error) {
	c, err := find(paths, notes)
	if err != nil {
		return Suite{}, err
	}
	s := Suite{Foreign: c.Foreign}
	for _, f := range c.of("scenario") {
		p, ps := scenario.Load(f.FS, f.Name)
		s.Plans, c.Problems = append(s.Plans, p), append(c.Problems, ps...)
	}
	if len(c.Problems) > 0 {
		return Suite{}, Joined(c.Problems)
	}
	return s, nil
}

// Rig reads a rig from the disk, or a shipped one.
func Rig(name string, notes io.Writer) (harness.Rig, error) {
	f, err := One("--rig ", name, notes)
	if err != nil {
		return harness.Rig{}, err
	}
	spec, problems := scenario.LoadRig(f.FS, f.Name)
	if len(problems) > 0 {
		return spec, Joined(problems)
	}
	return spec, nil
}

// Settings reads the list of a firmware's settings.
func Settings(name string, notes io.Writer) ([]setting.Def, error) {
	f, err := One("--settings-list ", name, notes)
	if err != nil {
		return nil, err
	}
	list, problems := scenario.LoadSettings(f.FS, f.Name)
	if len(problems) > 0 {
		return nil, Joined(problems)
	}
	return list, nil
}

// Joined makes one error of problems. One of a file that several scenarios read is told once.
func Joined(ps []harness.Problem) error {
	var errs []error
	seen := map[string]bool{}
	for _, p := range ps {
		if text := p.Error(); !seen[text] {
			seen[text] = true
			errs = append(errs, p)
		}
	}
	if see := See(ps); see != "" {
		errs = append(errs, errors.New(see))
	}
	return errors.Join(errs...)
}

// mostSeen is how many entries of the reference are named below problems.
const mostSeen = 3

// See names the entries of the reference that tell more about problems; empty if there is none.
func See(ps []harness.Problem) string {
	var list []string
	for _, p := range ps {
		if p.See != "" && !slices.Contains(list, p.See) && len(list) < mostSeen {
			list = append(list, p.See)
		}
	}
	if len(list) == 0 {
		return ""
	}
	return "more about it: drystage explain " + strings.Join(list, ", drystage explain ")
}

// Examples gives the shipped files, and the folder that they are in.
func Examples() (fs.FS, string) { return shipped{}, Folder }

// find lists the files that paths mean: files themselves, which are taken for scenarios, and all below folders.
func find(paths []string, notes io.Writer) (*Listing, error) {
	c := &Listing{}
	if len(paths) == 0 {
		c.Below(File{shipped{}, Folder})
		return c, nil
	}
	for _, p := range paths {
		f, info, err := Locate(p, notes)
		switch {
		case err != nil:
			return nil, harness.Errorf("no scenario at %s (%w); wanted a scenario file, a folder of them, or nothing for the shipped suite", p, err)
		case !info.IsDir():
			c.Add(f, "scenario")
		default:
			n := len(c.of("scenario"))
			c.Below(f)
			if len(c.of("scenario")) == n && len(c.Problems) == 0 {
				return nil, harness.Errorf("%w below %s: a scenario is a .yaml file whose first key is `drystage: scenario`%s", ErrNone, p, c.Others())
			}
		}
	}
	return c, nil
}

// ErrNone is in the error of a folder without a scenario.
var ErrNone = errors.New("no scenario")

// Listing is what was found on the disk, each file once.
type Listing struct {
	Files    []File
	Kinds    []string // of Files
	Foreign  []string // not drystage's
	Problems []harness.Problem
	Tables   bool // look at tables too, which may be motors
}

// Add notes a file of a kind.
func (c *Listing) Add(f File, kind string) {
	if !slices.Contains(c.Files, f) {
		c.Files, c.Kinds = append(c.Files, f), append(c.Kinds, kind)
	}
}

// of gives the files of a kind.
func (c *Listing) of(kind string) []File {
	var out []File
	for i, f := range c.Files {
		if c.Kinds[i] == kind {
			out = append(out, f)
		}
	}
	return out
}

// Others tells of files that are not drystage's, for the end of an error.
func (c *Listing) Others() string {
	if len(c.Foreign) == 0 {
		return ""
	}
	files := "files"
	if len(c.Foreign) == 1 {
		files = "file"
	}
	return fmt.Sprintf("; %d %s none of drystage's: %s", len(c.Foreign), files, strings.Join(c.Foreign, ", "))
}

// Below adds all files of drystage below a folder.
func (c *Listing) Below(f File) { Walk(f, c.look, c.broken) }

func (c *Listing) look(f File) {
	if !scenario.IsYAML(f.Name) && !(c.Tables && scenario.IsTable(f.Name)) {
		return
	}
	kind, problems := scenario.Kind(f.FS, f.Name)
	c.Problems = append(c.Problems, problems...)
	switch {
	case len(problems) > 0:
	case kind == scenario.Foreign:
		c.Foreign = append(c.Foreign, f.Name)
	default:
		c.Add(f, kind)
	}
}

// broken notes what can't be read: it may be, or hold, a scenario.
func (c *Listing) broken(f File, err error) {
	c.Problems = append(c.Problems, harness.Problem{Place: harness.Place{File: f.Name}, Found: Cause(err), Wanted: "a file or folder that can be read", Hint: "what it holds may be a scenario"})
}

// Cause is what an error of a file says beside the file's name.
func Cause(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return strings.Replace(err.Error(), p.Error(), p.Err.Error(), 1)
	}
	return err.Error()
}
