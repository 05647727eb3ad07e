package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/alecthomas/kong"

	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/harness/logs"
	"drystage/harness/logs/examine"
	"drystage/harness/reference"
	"drystage/harness/setting"
	"drystage/harness/show/report"
	"drystage/harness/show/schema"
	"drystage/sim/quantity"
)

type explainCmd struct {
	What  string `arg:"" optional:"" name:"KIND[.KEY]" help:"A kind of file, a key, a fault, an expectation, an event, a quantity, a command, a setting, a warning, an output; without it all pages are listed."`
	All   bool   `help:"Tell what lies inside a block, too."`
	Pages string `placeholder:"DIR" type:"path" help:"Write all pages as Markdown into this folder."`
}

// Help is what `drystage explain --help` says below the flags' summary.
func (explainCmd) Help() string {
	return `The last words of a name are enough.

Examples:
  drystage explain vehicle
  drystage explain fins.root
  drystage explain parts --all
  drystage explain never
  drystage explain main_height
  drystage explain bench.out`
}

// Run prints an entry, lists all pages, or writes them.
func (c *explainCmd) Run(d *console, k *kong.Context) error {
	pages := referencePages(k.Model)
	switch {
	case c.Pages != "" && c.What != "":
		return wrongUse("--pages writes all pages; leave out %s", c.What)
	case c.Pages != "":
		return writePages(d, c.Pages, pages)
	case c.What == "":
		_, err := io.WriteString(d.out, reference.List(pages)+"\ndrystage explain WORD tells one of them, or a key: drystage explain fins.root\n")
		return err
	}
	found, others := reference.Find(pages, c.What)
	if len(found) == 0 {
		hint := reference.Nearest(pages, c.What)
		if hint == "" {
			hint = "drystage explain lists the pages"
		}
		return wrongUse("found nothing called %q, wanted a page or the last words of a name in one; %s", c.What, hint)
	}
	all := c.All || c.What == "parts"
	_, err := io.WriteString(d.out, reference.Text(found, others, all))
	return err
}

// referencePages makes all pages.
func referencePages(model *kong.Application) []reference.Page {
	pages := scenario.Reference(suite.Examples())
	return append(pages, logs.Reference(), mockPage(), commandsPage(model), outputsPage())
}

// outputsPage tells of all outputs, also those that are made outside of the package report.
func outputsPage() (p reference.Page) {
	p = report.Reference()
	defer schema.Fill(&p)
	for _, o := range outputs() {
		if o[0] != "examine" {
			continue
		}
		text, err := examine.Schema()
		if err == nil {
			err = schema.Blocks(&p, "outputs."+o[0], strings.ToUpper(o[1][:1])+o[1][1:]+".", text, nil)
		}
		if err != nil {
			panic(err) // a schema of our own
		}
	}
	return p
}

// writePages writes each page as a file of its own, and one that names them.
func writePages(d *console, dir string, pages []reference.Page) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return status{misused, err}
	}
	put := func(name, text string) error {
		err := writeWhole(filepath.Join(dir, name), func(w io.Writer) error { _, err := io.WriteString(w, text); return err })
		if err != nil {
			err = status{misused, err}
		}
		return err
	}
	if err := put("README.md", reference.Index(pages)); err != nil {
		return err
	}
	for i := range pages {
		if err := put(pages[i].Name+".md", pages[i].Markdown()); err != nil {
			return err
		}
	}
	_, err := sayf(d.out, "%s in %s\n", count(len(pages)+1, "page"), dir)
	return err
}

// mockPage tells of the built-in board: its settings and its known defects.
func mockPage() reference.Page {
	p := reference.Page{Name: "mock", Doc: "The built-in board: its settings, for `settings` in a board's file or a scenario's boards, and its known defects, as in --board mock:ignores-tilt."}
	settings := reference.Block{Path: "mock.settings", Doc: "Settings of the built-in board; `drystage play --list-settings` prints them as a list to start your own from."}
	for _, s := range setting.Builtin() {
		settings.Entries = append(settings.Entries, settingEntry(&s))
	}
	defects := reference.Block{Path: "mock.defects", Doc: "Wrong boards that a good suite finds: `drystage defects` tells which scenario catches which."}
	for _, x := range mock.Defects() {
		defects.Entries = append(defects.Entries, reference.Entry{Key: x.Name, Wants: "an address", Default: reference.None, Doc: x.Accident, Example: "--board mock:" + x.Name})
	}
	p.Blocks = []reference.Block{settings, defects}
	return p
}

func settingEntry(s *setting.Def) reference.Entry {
	e := reference.Entry{Key: s.Name, Doc: s.Meaning}
	switch s.Kind {
	case setting.Output:
		e.Wants, e.Default = fmt.Sprintf("the number of an output channel, 0 to %d", setting.MaxChannels), "0"
	case setting.Flag:
		e.Wants, e.Default = "true or false", fmt.Sprint(s.Default != 0)
	case setting.Count:
		e.Wants, e.Default = fmt.Sprintf("a whole number from %g to %g", s.Min, s.Max), fmt.Sprint(s.Default)
	default:
		e.Wants = fmt.Sprintf("%s from %s to %s", s.Dim, quantity.Text(s.Min, s.Dim), quantity.Text(s.Max, s.Dim))
		e.Unit, e.Default = strings.Join(quantity.Units(s.Dim), ", "), quantity.Text(s.Default, s.Dim)
	}
	e.Example = s.Name + ": " + e.Default
	return e
}

// commandExamples shows each command at work; a test runs them.
var commandExamples = map[string]string{
	"bench": "drystage bench --board mock:ignores-tilt scenarios/staging-tilt.yaml", "contract": "drystage contract --quiet",
	"defects": "drystage defects --defect ignores-tilt scenarios/staging-tilt.yaml", "pace": "drystage pace",
	"examine": "drystage examine flight.csv", "fly": "drystage fly scenarios/vehicles/dunlin.yaml", "hunt": "drystage hunt scenarios/launch-day.yaml --flights 20",
	"new": `drystage new mine --stages 1 --diameter "54 mm" --mass "1.2 kg" --impulse "120 N s"`, "lint": "drystage lint scenarios", "ports": "drystage ports",
	"rig": "drystage rig scenarios/rigs/simulated.yaml", "ready": "drystage ready records", "replay": "drystage replay flight.csv", "schema": "drystage schema scenario",
	"show": "drystage show records/nominal.record", "sweep": "drystage sweep scenarios/launch-day.yaml --flights 5", "play": "drystage bench --board 'exec:drystage play'",
	"mutants": `drystage mutants scenarios/nominal.yaml --functions 'flight\.c:.*' --board 'sustainer=avr:flight.elf?wiring=wiring.yaml'`,
	"explain": "drystage explain fins.root", "trust": "drystage trust", "worker": "drystage worker --queue nats://127.0.0.1:4222", "benches": "drystage benches --queue nats://127.0.0.1:4222", "version": "drystage version", "completion": "drystage completion bash", "man": "drystage man",
}

// commandsPage tells each command with its flags.
func commandsPage(model *kong.Application) reference.Page {
	p := reference.Page{Name: "commands", Doc: "The commands, each with its flags.\n" + strings.ReplaceAll(about, "\n\n", "\n")}
	for _, n := range model.Leaves(true) {
		b := reference.Block{Path: "commands." + n.Name, Doc: n.Help, Example: commandExamples[n.Name]}
		for _, a := range n.Positional {
			e := reference.Entry{Key: a.Name, Wants: "an argument", Default: reference.None, Doc: a.Help}
			if a.Required {
				e.Default = reference.Required
			}
			b.Entries = append(b.Entries, e)
		}
		for _, f := range n.Flags {
			if !f.Hidden && f.Name != "help" {
				b.Entries = append(b.Entries, flagEntry(f))
			}
		}
		p.Blocks = append(p.Blocks, b)
	}
	return p
}

func flagEntry(f *kong.Flag) reference.Entry {
	e := reference.Entry{Key: f.Name, Wants: "--" + f.Name, Default: reference.None, Doc: f.Help}
	if !f.IsBool() {
		e.Wants += "=" + f.FormatPlaceHolder()
	}
	if f.Short != 0 {
		e.Wants += " or -" + string(f.Short)
	}
	if f.HasDefault {
		e.Default = f.Default
	}
	return e
}
