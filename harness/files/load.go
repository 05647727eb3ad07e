package files

import (
	"io/fs"
	"strings"

	"drystage/harness"
)

// Load reads a scenario, with its vehicle, motors and boards, into a Plan: units resolved, defaults
// filled in, every file hashed. If anything is wrong it gives every problem of every file instead,
// and the Plan is of no use. Setup.Rehearsed is the caller's to fill.
//
// Files are opened through fsys by path.Join of the scenario's own folder and the path that stands in
// it, so fsys decides what can be reached.
func Load(fsys fs.FS, name string) (harness.Plan, []harness.Problem) {
	r := newReader(fsys)
	p := r.plan(name)
	p.Digest = r.digest()
	if len(r.problems) > 0 {
		return p, r.sorted()
	}
	return p, nil
}

// Kinds lists the kinds of files.
func Kinds() []string { return []string{"vehicle", "motor", "board", "scenario"} }

// Lint gives every problem of a file of any kind, and of the files it names. A .csv file is a motor;
// of others the key `drystage` tells the kind. A board's outputs can be held against stages only
// in a scenario.
func Lint(fsys fs.FS, name string) []harness.Problem {
	r := newReader(fsys)
	if strings.HasSuffix(name, ".csv") {
		r.motor(name, harness.Place{})
		return r.sorted()
	}
	switch r.kind(name) {
	case "scenario":
		r.plan(name)
	case "vehicle":
		if v, ok := r.vehicle(name, harness.Place{}); ok {
			sc := &scene{vehicle: &v.Vehicle}
			for _, w := range v.whens {
				*w.into, _ = r.anchor(w.n, sc)
			}
		}
	case "board":
		r.board(name, harness.Place{}, nil)
	}
	return r.sorted()
}

// kind reads the kind of a YAML file; it keeps a problem when it tells none.
func (r *reader) kind(name string) string {
	text, ok := r.read(name, harness.Place{})
	if !ok {
		return ""
	}
	quiet := newReader(r.fsys)
	n := quiet.parse(name, text)
	if n == nil {
		r.problems = append(r.problems, quiet.problems...)
		return ""
	}
	kinds := []string{"vehicle", "board", "scenario"}
	got := n.get("drystage")
	switch {
	case got == nil:
		r.found(n.at, "no key `drystage`", "`drystage: KIND` as the first key, KIND one of "+oneOf(kinds), "")
	case !contains(kinds, got.text):
		r.found(got.at, "the kind "+quote(got.text), oneOf(kinds), near(got.text, kinds))
	default:
		return got.text
	}
	return ""
}
