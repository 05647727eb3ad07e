// Package project drafts the files of somebody's own rocket from a few numbers: vehicle, motors, boards, rig and scenarios
// that the built-in board passes, each to be replaced by what is measured. It writes nothing to a disk.
package project

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"testing/fstest"
	"text/template"
	"unicode"
	"unicode/utf8"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/sim/quantity"
)

// Wish is what its builder knows of a rocket. All are in SI.
type Wish struct {
	Name     string
	Stages   int     // 1 or 2
	Diameter float64 // m, of the body
	Mass     float64 // kg, at liftoff, motors included
	Impulse  float64 // N s, of the motor that lifts off
	Upper    float64 // N s, of the sustainer's motor; 0: six tenths of Impulse
	Board    string  // the address of the top stage's board; empty: the built-in board
}

// File is a file of a project: its name, with slashes, from the project's folder.
type File struct {
	Name, Text string
	Program    bool // to be executed
}

// Limit is the range of one number of a Wish. Outside it the proportions of a draft are no rocket's.
type Limit struct {
	what        string
	least, most float64 // in SI
	dimension   quantity.Dimension
}

// The limits of a Wish.
var (
	OfStages   = Limit{"stages", 1, 2, quantity.Number}
	OfDiameter = Limit{"diameter", 0.024, 0.2, quantity.Length}
	OfMass     = Limit{"mass at liftoff", 0.15, 60, quantity.Mass}
	OfImpulse  = Limit{"impulse", 5, 20000, quantity.Impulse}
	OfUpper    = Limit{"sustainer's impulse", 5, 20000, quantity.Impulse}
)

// Parse reads a number of a Wish from text with its unit. The error says what is wrong with it, or that it is out of range.
func (l *Limit) Parse(text string) (float64, error) {
	x, err := quantity.Parse(text, l.dimension)
	if err != nil {
		return 0, err
	}
	return x, l.check(x)
}

func (l *Limit) check(x float64) error {
	if x >= l.least && x <= l.most {
		return nil
	}
	say := func(v float64) string { return quantity.Short(v, l.dimension) }
	return harness.Errorf("%s: found %s, wanted from %s to %s", l.what, say(x), say(l.least), say(l.most))
}

//go:embed template
var templates embed.FS

var texts = template.Must(template.New("").Funcs(template.FuncMap{
	"mm":      func(x float64) string { return fmt.Sprintf("%.0f mm", x*1e3) },
	"mass":    massText,
	"drag":    dragText,
	"inertia": func(x float64) string { return fmt.Sprintf("%.2g kg m2", x) },
}).ParseFS(templates, "template/*"))

func massText(x float64) string {
	if x < 1 {
		return fmt.Sprintf("%.0f g", x*1e3)
	}
	return fmt.Sprintf("%.2f kg", x)
}

// dragText gives a drag coefficient; for a fast flight one that rises around Mach 1 as shapes like these have it: common
// practice, no source.
func dragText(cd float64, fast bool) string {
	if !fast {
		return fmt.Sprintf("{cd: %.2f}", cd)
	}
	var rows []string
	for _, x := range [][2]float64{{0, 1}, {0.8, 1}, {0.95, 1.2}, {1.05, 1.5}, {1.2, 1.45}, {1.6, 1.25}, {2.5, 1}} {
		rows = append(rows, fmt.Sprintf("{mach: %g, cd: %.2f}", x[0], x[1]*cd))
	}
	return "{table: [" + strings.Join(rows, ", ") + "]}"
}

// check says what is wrong with a wish.
func (w *Wish) check() error {
	if n := utf8.RuneCountInString(w.Name); n == 0 || n > 60 || strings.ContainsFunc(w.Name, unicode.IsControl) {
		return harness.Errorf("found the name %q, wanted from 1 to 60 letters; give one with --name", w.Name)
	}
	if w.Stages != 1 && w.Stages != 2 {
		return harness.Errorf("found %d stages, wanted 1 or 2", w.Stages)
	}
	for _, err := range []error{OfDiameter.check(w.Diameter), OfMass.check(w.Mass), OfImpulse.check(w.Impulse), OfUpper.check(w.upper())} {
		if err != nil {
			return err
		}
	}
	return nil
}

func (w *Wish) upper() float64 {
	if w.Upper > 0 {
		return w.Upper
	}
	return max(0.6*w.Impulse, OfUpper.least)
}

// Draft makes the files of a project. It flies what it drafts, without a board, until the fins keep it stable and the
// heights of the scenarios suit the flight. The error says what about a wish can't fly.
func Draft(w Wish) ([]File, error) {
	if err := w.check(); err != nil {
		return nil, err
	}
	d, err := design(&w)
	if err != nil {
		return nil, err
	}
	for i := range d.Boards {
		d.Boards[i].Address = "mock"
	}
	if w.Board != "" {
		d.Boards[0].Address = w.Board
	}
	return d.files(), nil
}

// files fills in the templates.
func (d *draft) files() (files []File) {
	add := func(name, from string, with any) {
		var b strings.Builder
		if err := texts.ExecuteTemplate(&b, from, with); err != nil {
			panic(err) // a template of ours that does not fit the data
		}
		files = append(files, File{Name: name, Text: b.String(), Program: path.Ext(name) == ".sh"})
	}
	add("README.md", "README.md", d)
	add(scenario.ProjectFile, "drystage.yaml", d)
	add("ci.sh", "ci.sh", d)
	add("vehicles/rocket.yaml", "vehicle.yaml", d)
	for _, s := range d.Stages {
		add("motors/"+s.Motor.File, "motor.csv", s.Motor)
	}
	for _, b := range d.Boards {
		add("boards/"+b.Stage+".yaml", "board.yaml", b)
	}
	add("rigs/bench.yaml", "rig.yaml", d)
	names := []string{"nominal", "unarmed", "power-cut", "early-spike", "ejection-spike", "baro-dropout"}
	if d.Two {
		names = append(names[:4], "staging-tilt", "igniter-dead")
	}
	for _, n := range names {
		add(n+".yaml", n+".yaml", d)
	}
	return files
}

// WithSchemas adds the JSON Schemas of the kinds of file that are there, and a line in each file that leads editors to its
// own.
func WithSchemas(files []File) (out []File, err error) {
	var kinds []string
	for _, f := range files {
		if kind, _ := scenario.Kind(FS(files), f.Name); scenario.IsYAML(f.Name) && kind != scenario.Foreign {
			up := strings.Repeat("../", strings.Count(f.Name, "/"))
			f.Text = "# yaml-language-server: $schema=" + up + schemaFile(kind) + "\n" + f.Text
			if !slices.Contains(kinds, kind) {
				kinds = append(kinds, kind)
			}
		}
		out = append(out, f)
	}
	for _, kind := range kinds {
		text, err := scenario.Schema(kind)
		if err != nil {
			return nil, err
		}
		out = append(out, File{Name: schemaFile(kind), Text: string(text)})
	}
	return out, nil
}

func schemaFile(kind string) string { return "schemas/" + kind + ".json" }

// FS gives files as a file system.
func FS(files []File) fs.FS {
	m := fstest.MapFS{}
	for _, f := range files {
		m[f.Name] = &fstest.MapFile{Data: []byte(f.Text), Mode: 0o644}
	}
	return m
}
