package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/term"

	"drystage/harness/files/project"
	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/sim/quantity"
)

type newCmd struct {
	Dir      string `arg:"" help:"The folder to make; one that is there must be empty."`
	Name     string `placeholder:"NAME" help:"Of the rocket; default the folder's name."`
	Stages   string `placeholder:"N" help:"1 or 2."`
	Diameter string `placeholder:"LENGTH" help:"Of the body, such as \"54 mm\"."`
	Mass     string `placeholder:"MASS" help:"At liftoff, motors included, such as \"1.5 kg\"."`
	Impulse  string `placeholder:"IMPULSE" help:"Of the motor that lifts off, such as \"160 N s\"."`
	Upper    string `placeholder:"IMPULSE" help:"Of the sustainer's motor; default six tenths of the other."`
	From     string `placeholder:"SCENARIO" help:"Copy a shipped scenario, such as gannet, with every file that it reads, instead of a draft."`
}

// Help is what `drystage new --help` says below the flags' summary.
func (newCmd) Help() string {
	return `A vehicle, its motors, its boards, a rig and six scenarios, drafted from a few numbers. The draft is flown without a
board until it is stable and its heights fit, and the built-in board passes its scenarios: so what you change next is what
you test next. What is not given by a flag is asked for on a terminal; elsewhere, and for an empty answer, a usual value is
taken and printed.

Examples:
  drystage new mine --stages 1 --diameter "75 mm" --mass "2.6 kg" --impulse "300 N s"
  drystage new fast --from gannet`
}

// Run makes the folder.
func (c *newCmd) Run(d *console) error {
	if err := c.free(); err != nil {
		return err
	}
	files, err := c.files(d)
	if err == nil {
		files, err = project.WithSchemas(files)
	}
	if err != nil {
		return err
	}
	for _, f := range files {
		if err := c.write(f); err != nil {
			return wrongUse("%s: %w", c.Dir, err)
		}
	}
	sayf(d.out, "%d files in %s:\n", len(files), c.Dir)
	for _, f := range files {
		sayf(d.out, "  %s\n", f.Name)
	}
	_, err = sayf(d.out, "\nNext:\n  cd %s\n  drystage bench\n", c.Dir)
	return err
}

// free wants the folder to be empty, or not to be there.
func (c *newCmd) free() error {
	list, err := os.ReadDir(c.Dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return wrongUse("%s: %w", c.Dir, err)
	case len(list) > 0:
		return wrongUse("%s: found %s in it, wanted a folder that is empty or not there yet", c.Dir, list[0].Name())
	}
	return nil
}

func (c *newCmd) files(d *console) ([]project.File, error) {
	if c.From != "" {
		if c.Name+c.Stages+c.Diameter+c.Mass+c.Impulse+c.Upper != "" {
			return nil, wrongUse("--from copies files as they are: leave out the flags of a draft")
		}
		return copied(d, c.From)
	}
	w, err := c.wish(d)
	if err != nil {
		return nil, err
	}
	files, err := project.Draft(w)
	if err != nil {
		return nil, wrongUse("%w", err)
	}
	return files, nil
}

// copied gives a shipped scenario and every file that it reads, as they lie below the shipped folder.
func copied(d *console, name string) (files []project.File, err error) {
	f, err := suite.Shipped(name)
	if err != nil {
		return nil, wrongUse("--from %w", err)
	}
	plan, problems := scenario.Load(f.FS, f.Name)
	if len(problems) > 0 {
		return nil, problemsError(problems)
	}
	files = []project.File{{Name: scenario.ProjectFile, Text: fmt.Sprintf(copiedProject, strings.TrimPrefix(f.Name, suite.Folder+"/"))}}
	for _, x := range plan.Files {
		files = append(files, project.File{Name: strings.TrimPrefix(x.Name, suite.Folder+"/"), Text: x.Text})
	}
	return files, nil
}

// copiedProject is the project's file of a copied scenario.
const copiedProject = `# What drystage does in this folder when it is told nothing else.
drystage: project
scenarios: [%s]
page: page.html
`

// question is one number of a wish.
type question struct {
	flag  *string
	asks  string
	usual string
	dim   quantity.Dimension
	to    *float64
}

// wish takes what flags say, asks for the rest on a terminal, and else takes what is usual.
func (c *newCmd) wish(d *console) (project.Wish, error) {
	w := project.Wish{Name: c.Name}
	if w.Name == "" {
		if abs, err := filepath.Abs(c.Dir); err == nil {
			w.Name = filepath.Base(abs)
		}
	}
	var stages float64
	questions := []question{
		{&c.Stages, "Stages, 1 or 2", "2", quantity.Number, &stages},
		{&c.Diameter, "Diameter of the body", "54 mm", quantity.Length, &w.Diameter},
		{&c.Mass, "Mass at liftoff, motors included", "1.5 kg", quantity.Mass, &w.Mass},
		{&c.Impulse, "Impulse of the motor that lifts off", "160 N s", quantity.Impulse, &w.Impulse},
	}
	ask := asker(d)
	for _, q := range questions {
		if err := q.answer(d, ask); err != nil {
			return w, err
		}
	}
	w.Stages = int(stages)
	if float64(w.Stages) != stages {
		return w, wrongUse("--stages: found %q, wanted 1 or 2", c.Stages)
	}
	if c.Upper != "" {
		x, err := quantity.Parse(c.Upper, quantity.Impulse)
		if err != nil {
			return w, wrongUse("--upper: %w", err)
		}
		if w.Upper = x; w.Stages != 2 {
			return w, wrongUse("--upper is of a sustainer's motor, and there is one stage")
		}
	}
	return w, nil
}

// asker gives what reads answers, on a terminal only.
func asker(d *console) *bufio.Reader {
	if f, ok := d.in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		return bufio.NewReader(f)
	}
	return nil
}

// answer takes a flag's word, or asks until one can be read.
func (q *question) answer(d *console, ask *bufio.Reader) error {
	if *q.flag != "" {
		return q.read(*q.flag)
	}
	for ask != nil {
		sayf(d.err, "%s [%s]: ", q.asks, q.usual)
		text, err := ask.ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		if text = strings.TrimSpace(text); text == "" {
			break
		}
		err = q.read(text)
		if err == nil {
			return nil
		}
		sayf(d.err, "%v\n", err)
	}
	sayf(d.err, "%s: %s, as usual\n", q.asks, q.usual)
	return q.read(q.usual)
}

func (q *question) read(text string) error {
	x, err := quantity.Parse(text, q.dim)
	if err != nil {
		return wrongUse("%s: %w", q.asks, err)
	}
	*q.to = x
	return nil
}

// write writes one file, and the folders that it lies in.
func (c *newCmd) write(f project.File) error {
	name := filepath.Join(c.Dir, filepath.FromSlash(f.Name))
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return err
	}
	if err := writeWhole(name, func(w io.Writer) error {
		_, err := io.WriteString(w, f.Text)
		return err
	}); err != nil {
		return err
	}
	if f.Program {
		return os.Chmod(name, 0o755)
	}
	return nil
}
