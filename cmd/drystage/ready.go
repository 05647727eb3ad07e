package main

import (
	"errors"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/files/suite"
	"drystage/harness/judge/audit"
	"drystage/harness/judge/ready"
	"drystage/harness/run"
	"drystage/harness/show/report"
)

type readyCmd struct {
	Records []string `arg:"" optional:"" name:"record" help:"Records that bench --out wrote, or folders of them; without one, the project's."`
	Suite   []string `placeholder:"PATH" sep:"none" help:"A scenario file or folder that the records should cover, or the word shipped for the shipped suite; may be given several times. Where the records are the project's, so are the scenarios, if not given."`
	HTML    string   `name:"html" placeholder:"FILE" help:"Write the sheet as a page to print on A4, too."`
	Format  string   `enum:"text,json" default:"text" help:"text or json."`
	Quiet   bool     `short:"q" help:"No progress bar."`

	foreign []string // files below the suite's folders that are none of ours
}

// shippedSuite is the word for the shipped suite; a folder of that name is ./shipped.
const shippedSuite = "shipped"

// Run judges the records, one at a time, and writes what they prove and what is open.
func (c *readyCmd) Run(d *console) error {
	if err := c.fromProject(d); err != nil {
		return err
	}
	names, err := recordsBelow(c.Records)
	if err != nil {
		return err
	}
	slices.Sort(names)
	e := ready.Evidence{By: run.Maker()}
	plans, err := c.compare(d, &e)
	if err != nil {
		return err
	}
	if err := c.gather(d, names, &e, auditOptions(plans)); err != nil {
		return err
	}
	s := e.Sheet()
	return c.print(d, &s)
}

// fromProject takes records and scenarios from the project where no records are named.
func (c *readyCmd) fromProject(d *console) error {
	if len(c.Records) > 0 {
		return nil
	}
	p, err := d.project()
	if err != nil {
		return err
	}
	if p == nil || p.Records == "" {
		return wrongUse("name the records that drystage bench --out DIR wrote, or the folder")
	}
	if err := suite.WithinProject(p, p.Records); err != nil {
		return status{refused, errorf("refused: %w", err)}
	}
	c.Records = []string{p.Records}
	if len(c.Suite) == 0 {
		c.Suite = p.Scenarios
	}
	d.uses(p, "records in "+p.Records+", scenarios in "+strings.Join(c.Suite, " "))
	return nil
}

// gather reads the records one by one.
func (c *readyCmd) gather(d *console, names []string, e *ready.Evidence, opt audit.Options) error {
	bar := newProgress(d.err, len(names), c.Quiet)
	defer bar.done()
	for _, name := range names {
		if d.ctx.Err() != nil {
			return status{unsure, errors.New("interrupted; no sheet was written")}
		}
		rec, sum, err := loadSummed(name)
		if err != nil {
			return status{misused, err}
		}
		bar.step(e.Add(ready.Source{File: filepath.ToSlash(name), Sum: sum}, &rec, audit.Audit(&rec, opt)...))
	}
	return nil
}

func (c *readyCmd) print(d *console, s *ready.Sheet) error {
	opt := report.Options{Made: run.Maker(), Foreign: c.foreign}
	if c.HTML != "" {
		if err := writeWhole(c.HTML, func(w io.Writer) error {
			return writePrintable(w, func(w io.Writer) error { return report.SheetPage(w, s, opt) })
		}); err != nil {
			return status{misused, err}
		}
	}
	write := report.SheetText
	if c.Format == "json" {
		write = report.SheetJSON
	}
	opt.Width, opt.Color = terminalSize(d.out)
	if err := write(d.out, s, opt); err != nil {
		return err
	}
	if c.HTML != "" && c.Format == "text" {
		sayf(d.out, "page: %s\n", c.HTML)
	}
	return status{code: code(s.Answer())}.orNil()
}

// compare adds the scenario files of --suite as they are now, and gives their plans.
func (c *readyCmd) compare(d *console, e *ready.Evidence) ([]harness.Plan, error) {
	if len(c.Suite) == 0 {
		return nil, nil
	}
	paths := c.Suite
	if slices.Contains(paths, shippedSuite) {
		if len(paths) > 1 {
			return nil, wrongUse("--suite %s stands alone, found it beside %d more; a folder of that name is ./%s", shippedSuite, len(paths)-1, shippedSuite)
		}
		paths = nil
	}
	s, err := suite.Load(paths, d.err)
	if err != nil {
		return nil, err
	}
	var files []ready.SuiteFile
	for i := range s.Plans {
		files = append(files, ready.SuiteFile{Name: s.Plans[i].Name, File: s.Plans[i].File, Digest: s.Plans[i].Digest})
	}
	e.Compare(paths, files)
	c.foreign = s.Foreign
	return s.Plans, nil
}

// recordsBelow lists the records of paths: files as given, and all .record files below folders, including links, each
// once.
func recordsBelow(paths []string) ([]string, error) {
	var names []string
	add := func(name string) {
		if name = filepath.FromSlash(name); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	var wrong error
	each := func(f suite.File) {
		if strings.HasSuffix(f.Name, ".record") {
			add(f.Name)
		}
	}
	broken := func(f suite.File, err error) { wrong = errors.Join(wrong, errorf("%s: %s", f.Name, suite.Cause(err))) }
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, wrongUse("no record at %s (%v); give records that drystage bench --out DIR wrote, or the folder", p, err)
		}
		name := path.Clean(filepath.ToSlash(p))
		if !info.IsDir() {
			add(name)
			continue
		}
		n := len(names)
		if suite.Walk(suite.OnDisk(name), each, broken); len(names) == n && wrong == nil {
			return nil, wrongUse("no .record file below %s; drystage bench --out %s writes them", p, p)
		}
	}
	if wrong != nil {
		return nil, status{misused, wrong}
	}
	return names, nil
}
