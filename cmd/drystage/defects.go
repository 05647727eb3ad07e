package main

import (
	"cmp"
	"io"
	"slices"
	"time"

	"drystage/harness"
	"drystage/harness/board/mock"
	"drystage/harness/judge/defects"
	"drystage/harness/run"
	"drystage/harness/run/campaign"
	"drystage/harness/show/report"
	"drystage/harness/show/study"
)

type defectsCmd struct {
	Paths  []string `arg:"" optional:"" predictor:"file" help:"Scenario files or folders; without one, those of the project, or else the shipped suite."`
	Defect []string `placeholder:"NAME" sep:"none" help:"Try only this defect of the built-in board; may be given again. All are listed by bench --list-defects."`
	Format string   `enum:"text,json" default:"text" help:"text or json."`
	HTML   string   `name:"html" placeholder:"FILE" help:"Write a page: the matrix of defects and scenarios."`
	flightFlags
	queueFlags
	resumeFlags
}

// Run flies the suite with the built-in board, then the scenarios that pass with each of its defects.
func (c *defectsCmd) Run(d *console) (err error) {
	defer c.leave()
	defer c.end()
	known, err := c.known()
	if err = cmp.Or(err, (&evidencePage{file: c.HTML}).check()); err != nil {
		return err
	}
	s, err := c.load(d, c.Paths)
	if err != nil {
		return err
	}
	plans := slices.Clone(s.Plans)
	for i := range plans {
		plans[i] = campaign.StandIn(&plans[i])
	}
	opt := run.Options{Jobs: c.Jobs, Timeout: 2 * time.Second}
	if err := c.begin(d, c.Queue, plans, opt); err != nil {
		return err
	}
	var b *run.Bench
	if c.Queue == "" {
		var done func(error) error
		if b, done, err = openBench(d, opt, plans); err != nil {
			return err
		}
		defer func() { err = done(err) }()
	}
	var rows []defects.Scenario
	for i := range plans {
		rows = append(rows, defects.Scenario{Name: plans[i].Name, File: plans[i].File, Seed: plans[i].Setup.Seed})
	}
	m := defects.New(rows, known)
	flown, err := c.fly(d, b, plans, m)
	if err != nil {
		return interrupted(err, "after %s", count(flown, "flight"))
	}
	if c.Format == "json" {
		err = report.DefectsJSON(d.out, m, report.Options{Foreign: s.Foreign})
	} else {
		opt := report.Options{Foreign: s.Foreign}
		opt.Width, opt.Color = terminalSize(d.out)
		err = report.Defects(d.out, m, opt)
	}
	if err != nil {
		return err
	}
	page := evidencePage{file: c.HTML}
	if err := page.writeOf(d, c.Format, func(w io.Writer) error { return study.Defects(w, m) }); err != nil {
		return err
	}
	return status{code: code(m.Verdict())}.orNil()
}

// known gives the defects to try, each once, in the board's order.
func (c *defectsCmd) known() ([]defects.Defect, error) {
	for _, name := range c.Defect {
		if name == "" {
			return nil, wrongUse("--defect wants a name; `drystage bench --list-defects` lists them")
		}
		if _, err := mock.New(name); err != nil {
			return nil, status{misused, err}
		}
	}
	var out []defects.Defect
	for _, x := range mock.Defects() {
		if len(c.Defect) == 0 || slices.Contains(c.Defect, x.Name) {
			out = append(out, defects.Defect(x))
		}
	}
	return out, nil
}

// fly fills the matrix and gives the number of flights.
func (c *defectsCmd) fly(d *console, b *run.Bench, plans []harness.Plan, m *defects.Matrix) (flown int, err error) {
	bar := newProgress(d.err, len(plans)*(1+len(m.Defects)), c.Quiet)
	defer bar.done()
	each := func(plans []harness.Plan, defect string, keep func(i int, v *harness.Verdict)) error {
		done := func(i int, v harness.Verdict) error {
			keep(i, &v)
			bar.step(v)
			flown++
			return nil
		}
		if b == nil {
			return c.flySent(d, plans, defect, done)
		}
		return c.checkpoint.Judged(d.ctx, b.Defect(defect), len(plans), func(i int) string { return plans[i].File + " defect " + defect },
			func(i int) run.Flight { return run.Flight{Plan: &plans[i]} }, func(i int, _ *harness.Record, f *campaign.Flown) error { return done(i, f.Verdict) })
	}
	if err := each(plans, "", m.SetReference); err != nil {
		return flown, err
	}
	var sound []harness.Plan
	var at []int // their places in the matrix
	for i := range plans {
		if m.Valid(i) {
			sound, at = append(sound, plans[i]), append(at, i)
		}
	}
	for x := range m.Defects {
		if err := each(sound, m.Defects[x].Name, func(i int, v *harness.Verdict) { m.Set(x, at[i], v) }); err != nil {
			return flown, err
		}
	}
	return flown, nil
}

// flySent has the workers of the queue fly plans on the built-in board with a defect.
func (c *defectsCmd) flySent(d *console, plans []harness.Plan, defect string, done func(i int, v harness.Verdict) error) error {
	boards := boardFlags{Timeout: 2 * time.Second}
	if defect != "" {
		boards.Board = []string{"mock:" + defect}
	}
	b, err := c.bundle(plans, &boards)
	if err != nil {
		return err
	}
	b.StandIn, b.Batch = true, 4
	return c.send(d, b, func(_ *campaign.Sender, i int, f *campaign.Flown) error { return done(i, f.Verdict) })
}
