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
	"drystage/harness/run"
)

type newCmd struct {
	Dir      string `arg:"" help:"The folder to make; one that is there must be empty."`
	Name     string `placeholder:"NAME" help:"Of the rocket; default the folder's name."`
	Stages   string `placeholder:"N" help:"1 or 2."`
	Diameter string `placeholder:"LENGTH" help:"Of the body, such as \"54 mm\"."`
	Mass     string `placeholder:"MASS" help:"At liftoff, motors included, such as \"1.5 kg\"."`
	Impulse  string `placeholder:"IMPULSE" help:"Of the motor that lifts off, such as \"160 N s\"."`
	Upper    string `placeholder:"IMPULSE" help:"Of the sustainer's motor; default six tenths of the other."`
	Board    string `placeholder:"ADDR" help:"Where the board of the top stage is: mock, exec:PROGRAM ARGS, serial:PORT?baud=N, unix:PATH, tcp:HOST:PORT, avr:FIRMWARE.elf?wiring=FILE. It is written into the project's file; nothing is opened or started."`
	From     string `placeholder:"SCENARIO" help:"Copy a shipped scenario, such as gannet, with every file that it reads, instead of a draft."`
}

// Help is what `drystage new --help` says below the flags' summary.
func (newCmd) Help() string {
	return `A vehicle, its motors, its boards, a rig and six scenarios, drafted from a few numbers. The draft is flown without a
board until it is stable and its heights fit, and the built-in board passes its scenarios: so what you change next is what
you test next. What is not given by a flag is asked for on a terminal; elsewhere, and for an empty answer, a usual value is
taken and printed. The address of your board is kept in the project's file; nothing is started or opened before you have
said drystage trust.

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
	sayf(d.out, "\nNext:\n  cd %s\n", c.Dir)
	if c.Board != "" && !strings.HasPrefix(c.Board, "mock") {
		sayf(d.out, "  drystage trust    # your board, on an inert bench only: no motor, igniter or charge connected or near\n")
	}
	_, err = sayf(d.out, "  drystage bench\n")
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
		if c.Name+c.Stages+c.Diameter+c.Mass+c.Impulse+c.Upper+c.Board != "" {
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

// question is one line of a wish.
type question struct {
	flag  *string
	asks  string
	usual string
	take  func(text string) error
}

// wish takes what flags say, asks for the rest on a terminal, and else takes what is usual.
func (c *newCmd) wish(d *console) (project.Wish, error) {
	w := project.Wish{Name: c.Name}
	if w.Name == "" {
		if abs, err := filepath.Abs(c.Dir); err == nil {
			w.Name = filepath.Base(abs)
		}
	}
	board := question{&c.Board, "Your board, exec:PROGRAM, serial:PORT?baud=115200, or mock, the built-in one", "mock", func(text string) error {
		w.Board, c.Board = text, text
		return run.CheckAddress(text)
	}}
	questions := []question{
		{&c.Stages, "Stages, 1 or 2", "2", func(text string) error { return takeStages(text, &w.Stages) }},
		{&c.Diameter, "Diameter of the body", "54 mm", taker(&project.OfDiameter, &w.Diameter)},
		{&c.Mass, "Mass at liftoff, motors included", "1.5 kg", taker(&project.OfMass, &w.Mass)},
		{&c.Impulse, "Impulse of the motor that lifts off", "160 N s", taker(&project.OfImpulse, &w.Impulse)},
	}
	ask := asker(d)
	if ask != nil || c.Board != "" { // else a draft flies on the built-in board
		questions = append(questions, board)
	}
	for _, q := range questions {
		if err := q.answer(d, ask); err != nil {
			return w, err
		}
	}
	if c.Upper != "" {
		if err := taker(&project.OfUpper, &w.Upper)(c.Upper); err != nil {
			return w, wrongUse("--upper: %w", err)
		}
		if w.Stages != 2 {
			return w, wrongUse("--upper is of a sustainer's motor, and there is one stage")
		}
	}
	return w, nil
}

func takeStages(text string, to *int) error {
	x, err := project.OfStages.Parse(text)
	if *to = int(x); err == nil && float64(*to) != x {
		err = fmt.Errorf("found %q, wanted 1 or 2", text)
	}
	return err
}

// taker reads a number that must be in its range.
func taker(limit *project.Limit, to *float64) func(text string) error {
	return func(text string) (err error) {
		*to, err = limit.Parse(text)
		return err
	}
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
	if err := q.take(text); err != nil {
		return wrongUse("%s: %w", q.asks, err)
	}
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
