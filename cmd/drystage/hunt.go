package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/hunt"
	"drystage/harness/run"
	"drystage/harness/run/campaign"
	"drystage/harness/show/report"
	"drystage/harness/show/study"
	"drystage/harness/vary"
)

// The most flights and seeds of a hunt.
const (
	mostHunted = 1000000
	mostSeeds  = 1000

	mostPopulation = 1000
)

type huntCmd struct {
	Scenario   string `arg:"" predictor:"file" help:"A scenario; its vary declares the ranges."`
	Flights    int    `default:"500" placeholder:"N" help:"Search with at most N flights (500); shrinking takes some more."`
	Seeds      int    `default:"3" placeholder:"N" help:"Try N seeds, from the scenario's own on (3)."`
	Expect     string `placeholder:"N|TEXT" help:"Search for the worst of one expectation: its number, from 1, or a part of its text."`
	Population int    `placeholder:"N" help:"Search with populations of N flights a generation (CMA-ES), which are flown at once, in place of local searches; best for many workers. 0: no."`
	UntilFail  bool   `help:"Stop searching at the first failure."`
	Write      string `placeholder:"FILE" help:"Write the worst case, shrunk, as a scenario."`
	HTML       string `name:"html" placeholder:"FILE" help:"Write a page: the boundary that was found, and every flight of the search against each range."`
	boardFlags
	flightFlags
	queueFlags
	resumeFlags
	Format string `enum:"text,json" default:"text" help:"text or json."`

	where []harness.BoardAddress // the boards
}

// Run searches, shrinks what it found and tells it.
func (c *huntCmd) Run(d *console) (err error) {
	defer c.leave()
	defer c.end()
	h, err := c.prepare(d)
	if err != nil {
		return err
	}
	defer func() { err = h.close(err) }()
	like, err := c.like(h.find.Plan)
	if err = cmp.Or(err, (&evidencePage{file: c.HTML}).check()); err != nil {
		return err
	}
	err = c.hunt(h)
	if errors.Is(err, context.Canceled) {
		return h.stopped()
	}
	if err != nil {
		return err
	}
	return c.report(d, h.find, like)
}

// like gives the path of the scenario relative to the file to write.
func (c *huntCmd) like(p *harness.Plan) (string, error) {
	if c.Write == "" {
		return p.File, nil
	}
	dir := filepath.Dir(c.Write)
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return "", wrongUse("--write %s: there is no folder %s", c.Write, dir)
	}
	like, err := relative(dir, p.File)
	if err == nil && like == filepath.Base(c.Write) {
		err = wrongUse("--write %s would write over the scenario that is searched; give it another name", c.Write)
	}
	return like, err
}

// prepare checks the arguments and opens the bench.
func (c *huntCmd) prepare(d *console) (*hunter, error) {
	switch {
	case c.Flights < 1 || c.Flights > mostHunted:
		return nil, wrongUse("--flights %d: wanted 1 to %d; a search without a flight proves nothing", c.Flights, mostHunted)
	case c.Population != 0 && (c.Population < 4 || c.Population > mostPopulation):
		return nil, wrongUse("--population %d: wanted 4 to %d", c.Population, mostPopulation)
	case c.Seeds < 1 || c.Seeds > mostSeeds:
		return nil, wrongUse("--seeds %d: wanted 1 to %d", c.Seeds, mostSeeds)
	}
	found, err := c.load(d, []string{c.Scenario})
	if err != nil {
		return nil, err
	}
	plans := found.Plans
	if len(plans) != 1 {
		return nil, wrongUse("%s holds %s; hunt takes one", c.Scenario, count(len(plans), "scenario"))
	}
	p := &plans[0]
	if len(p.Vary) == 0 {
		return nil, wrongUse("%s declares no range to search; give it a `vary` (drystage explain vary)", p.File)
	}
	only, err := c.only(p)
	if err != nil {
		return nil, err
	}
	var b *run.Bench
	done := func(err error) error { return err }
	if c.Queue != "" {
		if err := cmp.Or(c.adopt(d, plans), c.begin(d, c.Queue, plans, run.Options{})); err != nil {
			return nil, err
		}
		c.where = c.seats(plans, &c.boardFlags)
	} else {
		if b, done, err = c.open(d, c.Jobs, plans); err != nil {
			return nil, err
		}
		if err := c.begin(d, "", plans, c.plain()); err != nil {
			return nil, done(err)
		}
		c.where = b.Addresses(plans)
	}
	s := &hunt.Space{Vary: p.Vary, Seed: p.Setup.Seed, Faults: vary.FaultNames(p.Setup.Faults, p.Without)}
	for i := range p.Vary {
		s.Written = append(s.Written, vary.Written(p, &p.Vary[i]))
	}
	f := &hunt.Result{Space: s, Plan: p, Seeds: c.Seeds, Command: c.command(p)}
	return &hunter{d: d, bench: b, cmd: c, close: done, find: f, only: only}, nil
}

// only gives the number of the expectation that --expect names, from 1; 0 for all.
func (c *huntCmd) only(p *harness.Plan) (int, error) {
	if c.Expect == "" {
		return 0, nil
	}
	return expectation("--expect", c.Expect, p)
}

// command is the command that hunts command, with the same outcome.
func (c *huntCmd) command(p *harness.Plan) string {
	out := fmt.Sprintf("drystage hunt %s --flights %d --seeds %d --seed %d", report.Quoted(p.File), c.Flights, c.Seeds, p.Setup.Seed)
	if c.Expect != "" {
		out += " --expect " + report.Quoted(c.Expect)
	}
	if c.Population > 0 {
		out += fmt.Sprintf(" --population %d", c.Population)
	}
	if c.UntilFail {
		out += " --until-fail"
	}
	return out + c.repeatSent(&c.boardFlags)
}

// hunt searches and shrinks.
func (c *huntCmd) hunt(h *hunter) error {
	h.bar = newProgress(h.d.err, c.Flights, c.Quiet)
	defer h.bar.done()
	s := h.find.Space
	err := h.search(hunt.Options{Own: s.Own(), Seeds: c.Seeds, Flights: c.Flights, Seed: s.Seed, Only: h.only, UntilFail: c.UntilFail, Population: c.Population})
	if err != nil {
		return err
	}
	return h.shrink()
}

// report prints what was found, and writes it as a scenario if --write is given.
func (c *huntCmd) report(d *console, f *hunt.Result, like string) error {
	x := f.Finding()
	text := f.File(like, report.MarginText(&x))
	if err := c.print(d, f, text); err != nil {
		return err
	}
	page := evidencePage{file: c.HTML}
	if err := page.writeOf(d, c.Format, func(w io.Writer) error { return study.Hunt(w, f, text, report.Options{Seats: c.where}) }); err != nil {
		return err
	}
	if c.Write != "" {
		if err := c.keep(d, text); err != nil {
			return err
		}
	}
	return status{code: code(f.Answer())}.orNil()
}

func (c *huntCmd) print(d *console, f *hunt.Result, text string) error {
	opt := report.Options{Seats: c.where}
	if c.Format == "json" {
		return report.HuntJSON(d.out, f, text, opt)
	}
	opt.Width, opt.Color = terminalSize(d.out)
	return report.Hunt(d.out, f, text, opt)
}

// keep writes the scenario, and checks it as lint does.
func (c *huntCmd) keep(d *console, text string) error {
	if err := writeWhole(c.Write, func(w io.Writer) error { _, err := io.WriteString(w, text); return err }); err != nil {
		return status{misused, err}
	}
	if ps := scenario.Lint(scenario.Disk{}, filepath.ToSlash(c.Write)); len(ps) > 0 {
		return problemsError(ps)
	}
	if c.Format != "text" {
		return nil
	}
	_, err := sayf(d.out, "\n%s: written, no finding; drystage bench %s flies it\n", c.Write, report.Quoted(c.Write))
	return err
}

// hunter flies the flights of a search.
type hunter struct {
	d      *console
	bench  *run.Bench // nil: workers fly
	cmd    *huntCmd
	close  func(error) error
	find   *hunt.Result
	only   int // the expectation that counts, from 1; 0: all
	bar    *progress
	flown  int
	failed string // the first flight that failed, in words
}

// stopped gives the error of an interrupted hunt.
func (h *hunter) stopped() error {
	if h.failed == "" {
		return status{unsure, errorf("interrupted after %s; nothing was found, which proves nothing", count(h.flown, "flight"))}
	}
	return status{failed, errorf("interrupted after %s, of which at least one failed: %s", count(h.flown, "flight"), h.failed)}
}

// described gives the first failed expectation of a flight, and the values drawn for it.
func described(c *hunt.Case, v *harness.Verdict) string {
	text := fmt.Sprintf("seed %d", c.Seed)
	for _, x := range c.Values {
		text += ", " + x.Name + " " + vary.Brief(x)
	}
	if len(c.Without) > 0 {
		text += ", without " + strings.Join(c.Without, ", ")
	}
	i := slices.IndexFunc(v.Findings, func(f harness.Finding) bool { return f.Answer == harness.Fail })
	return fmt.Sprintf("%s, with %s", v.Findings[i].Text, text)
}

func (h *hunter) search(opt hunt.Options) (err error) {
	f := h.find
	f.Flights, err = hunt.Search(opt, func(points []hunt.Point) ([][]hunt.Score, error) {
		cases := make([]hunt.Case, len(points))
		for i := range points {
			cases[i] = f.Space.Case(points[i])
		}
		verdicts, err := h.fly(cases)
		var merits [][]hunt.Score
		for i := range verdicts {
			merits = append(merits, hunt.Scores(&verdicts[i], len(f.Plan.Expect)))
		}
		return merits, err
	})
	return err
}

// shrink simplifies the worst flight, and searches the limit at which a failure begins.
func (h *hunter) shrink() error {
	f := h.find
	f.Criterion, f.Worst = hunt.WorstOf(f.Flights, h.only)
	worst := f.Flights[f.Worst]
	aim := hunt.GoalFor(f.Criterion, worst.Scores[f.Criterion], f.Flights[0].Scores[f.Criterion])
	try := func(c hunt.Case) (v harness.Verdict, ok bool, err error) {
		vs, err := h.fly([]hunt.Case{c})
		if err != nil {
			return v, false, err
		}
		f.Extra++
		return vs[0], aim.Holds(hunt.Scores(&vs[0], len(f.Plan.Expect))), nil
	}
	keep := func(c hunt.Case) (bool, error) {
		v, ok, err := try(c)
		if ok {
			f.Verdict = v
		}
		return ok, err
	}
	c := f.Space.Case(worst.Point)
	ok, err := keep(c)
	if err != nil {
		return err
	}
	if !ok {
		return status{unsure, errorf("flight %d came out otherwise when it was flown again; this board does not repeat itself", f.Worst+1)}
	}
	if f.Case, err = f.Space.Shrink(c, keep); err != nil || aim.Answer != harness.Fail {
		return err
	}
	f.Edge, err = f.Space.Edge(f.Case, func(c hunt.Case) (bool, error) {
		_, ok, err := try(c)
		return ok, err
	})
	return err
}

// fly flies cases, several at a time, and judges them.
func (h *hunter) fly(cases []hunt.Case) (verdicts []harness.Verdict, err error) {
	list := make([]campaign.Case, len(cases))
	for i := range cases {
		list[i] = campaign.Case(cases[i])
	}
	flyer := caseFlyer{d: h.d, bench: h.bench, queue: &h.cmd.queueFlags, boards: &h.cmd.boardFlags, plan: h.find.Plan, known: h.cmd.checkpoint}
	err = flyer.fly(list, func(i int, v harness.Verdict) error {
		verdicts = append(verdicts, v)
		h.bar.step(v)
		if h.flown++; v.Answer == harness.Fail && h.failed == "" {
			h.failed = described(&cases[i], &v)
		}
		return nil
	})
	return verdicts, err
}
