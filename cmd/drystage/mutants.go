package main

import (
	"cmp"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"text/tabwriter"

	"drystage/harness"
	"drystage/harness/judge/codecoverage"
	"drystage/harness/judge/mutants"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
	"drystage/harness/show/report"
	"drystage/sim"
)

type mutantsCmd struct {
	Paths     []string `arg:"" optional:"" predictor:"file" help:"Scenario files or folders; without one, those of the project, or else the shipped suite."`
	Functions string   `required:"" placeholder:"PATTERN" help:"The functions whose branches are turned around: a regular expression for a whole name, or for FILE:NAME, such as 'flight\\.c:.*'."`
	Sample    int      `default:"60" placeholder:"N" help:"How many branches are tried, drawn by --draw; 0 for all."`
	Draw      uint64   `default:"1" placeholder:"SEED" help:"The seed by which branches are drawn."`
	Part      string   `placeholder:"K/N" help:"Only every Nth of the drawn branches, from the Kth on: for several computers, or sittings."`
	boardFlags
	flightFlags

	file      string // of the firmware
	plans     []harness.Plan
	scenarios map[string]int // by name
}

// Run flies the scenarios with the firmware as it is, then with one branch after the other turned around, each until a
// scenario fails.
func (c *mutantsCmd) Run(d *console) error {
	pattern, err := regexp.Compile(c.Functions)
	if err != nil {
		return wrongUse("--functions: %w", err)
	}
	if c.Sample < 0 {
		return wrongUse("--sample %d: wanted at least 0", c.Sample)
	}
	s, err := c.load(d, c.Paths)
	if err != nil {
		return err
	}
	c.plans = s.Plans
	if err := c.adopt(d, c.plans); err != nil {
		return err
	}
	program, err := c.program()
	if err != nil {
		return status{misused, err}
	}
	b, err := mutants.NewBinary(program, pattern, c.Sample, c.Draw)
	if err != nil {
		return status{misused, err}
	}
	if err := c.part(b); err != nil {
		return err
	}
	if err := c.original(d, b); err != nil {
		return interrupted(err, "before a mutant was flown")
	}
	if err := c.fly(d, b); err != nil {
		return interrupted(err, "after %s", count(flightsOf(b), "flight"))
	}
	return c.write(d, b)
}

// part leaves of the drawn branches what --part says.
func (c *mutantsCmd) part(b *mutants.Binary) error {
	if c.Part == "" {
		return nil
	}
	var k, n int
	if _, err := fmt.Sscanf(c.Part, "%d/%d", &k, &n); err != nil || k < 1 || k > n || fmt.Sprintf("%d/%d", k, n) != c.Part {
		return wrongUse("--part %s: wanted K/N, such as 1/4 for the first of four parts", c.Part)
	}
	var own []mutants.Flip
	for i := k - 1; i < len(b.Flips); i += n {
		own = append(own, b.Flips[i])
	}
	b.Flips = own
	return nil
}

// program reads the firmware of the one emulated chip.
func (c *mutantsCmd) program() (*codecoverage.Program, error) {
	addresses, err := run.Addresses(c.Board, c.plans)
	if err != nil {
		return nil, err
	}
	for _, a := range addresses {
		file := run.Firmware(a.Address)
		if file != "" && c.file != "" && c.file != file {
			return nil, errorf("two firmwares, %s and %s; wanted one, on whichever boards", c.file, file)
		}
		c.file = cmp.Or(file, c.file)
	}
	if c.file == "" {
		return nil, errorf("no board here is an emulated chip, whose address begins with avr:; see `drystage explain wiring`")
	}
	return codecoverage.Open(c.file)
}

// original flies all scenarios without a mutant, and counts which branches each executes.
func (c *mutantsCmd) original(d *console, m *mutants.Binary) (err error) {
	dir, err := os.MkdirTemp("", "drystage-counts-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	opt, err := c.options(d, c.Jobs)
	if err != nil {
		return err
	}
	opt.Counts = dir
	b, done, err := openBench(d, opt, c.plans)
	if err != nil {
		return err
	}
	defer func() { err = done(err) }()
	bar := newProgress(d.err, len(c.plans), c.Quiet)
	defer bar.done()
	c.scenarios = map[string]int{}
	return flyPlans(d.ctx, b, c.plans, func(i int, rec *harness.Record, v harness.Verdict) error {
		if rec.Cause != "" {
			return status{unsure, errorf("%s with the firmware as it is: %s", rec.Plan.Name, rec.Cause)}
		}
		sum, err := countsOf(b, c.file, &rec.Plan)
		c.scenarios[rec.Plan.Name] = i
		m.AddScenario(rec.Plan.Name, &sum, v)
		bar.step(v)
		return err
	})
}

// fly flies the mutants, in rounds: the next scenario of each that lives.
func (c *mutantsCmd) fly(d *console, m *mutants.Binary) (err error) {
	opt, err := c.options(d, c.Jobs)
	if err != nil {
		return err
	}
	opt.Watch = func(rec *harness.Record, src sim.Source) sim.Source {
		return &untilFailed{Source: src, rec: rec, fails: func(v *harness.Verdict) bool {
			_, fails := m.Fails(c.scenarios[rec.Plan.Name], v)
			return fails
		}}
	}
	b, done, err := openBench(d, opt, c.plans)
	if err != nil {
		return err
	}
	defer func() { err = done(err) }()
	tried := map[mutants.Try]bool{}
	for round := m.Next(tried); len(round) > 0; round = m.Next(tried) {
		if err := c.round(d, b, m, round); err != nil {
			return err
		}
		for _, t := range round {
			tried[t] = true
		}
	}
	return nil
}

func (c *mutantsCmd) round(d *console, b *run.Bench, m *mutants.Binary, round []mutants.Try) error {
	bar := newProgress(d.err, len(round), c.Quiet)
	defer bar.done()
	verdicts := make([]harness.Verdict, len(round))
	return b.FlyEach(d.ctx, len(round), func(i int) run.Flight {
		t := round[i]
		plan := c.plans[t.Scenario]
		return run.Flight{Plan: &plan, Flip: run.Flip{Firmware: c.file, Address: m.Flips[t.Flip].Address}, Over: func(rec *harness.Record) { verdicts[i] = verdict.Judge(rec) }}
	}, func(i int, _ *harness.Record) error {
		m.Judge(round[i], &verdicts[i])
		bar.step(verdicts[i])
		return nil
	})
}

// untilFailed is a source that ends once the flight has failed for sure: what has not happened yet is no failure while a
// record isn't complete.
type untilFailed struct {
	sim.Source
	rec   *harness.Record
	fails func(*harness.Verdict) bool
	next  sim.Time
}

const lookEvery = 2 * sim.Second // of the flight

// Step goes on until the flight has failed.
func (u *untilFailed) Step(outs []sim.Output) (t *sim.Tick, ok bool) {
	t, ok = u.Source.Step(outs)
	if n := len(u.rec.Times); n > 0 && u.rec.Times[n-1] >= u.next {
		u.next = u.rec.Times[n-1] + lookEvery
		v := judgedSoFar(u.rec)
		ok = ok && !u.fails(&v)
	}
	return t, ok
}

// judgedSoFar judges a flight that goes on.
func judgedSoFar(rec *harness.Record) harness.Verdict {
	part := *rec
	part.Cause = "it goes on"
	part.Health = make([]harness.Health, len(rec.Plan.Setup.Bays))
	part.Events = slices.Clone(rec.Events)
	slices.SortStableFunc(part.Events, func(a, b sim.Event) int { return cmp.Compare(a.At, b.At) })
	return verdict.Judge(&part)
}

func flightsOf(m *mutants.Binary) (n int) {
	for i := range m.Flips {
		n += m.Flips[i].Flights
	}
	return n
}

// write tells the score, what killed each mutant, and which live.
func (c *mutantsCmd) write(d *console, m *mutants.Binary) error {
	where, err := run.Addresses(c.Board, c.plans)
	if err == nil {
		err = report.Boards(d.out, where)
	}
	if err != nil {
		return err
	}
	s := m.Score()
	sayf(d.out, "\n%d of %d branches in %s, drawn by seed %d; %s\n", s.All, m.Of, c.Functions, c.Draw, count(flightsOf(m), "flight"))
	sayf(d.out, "killed %d of %d: %.1f %%\n\n", s.Killed, s.All, s.Percent())
	t := tabwriter.NewWriter(d.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "mutant\toutcome\tby\tfinding")
	for _, f := range m.Flips {
		if f.Killed() {
			sayf(t, "%s\t%s\t%s\t%s\n", f.String(), string(f.Outcome), f.Scenario, f.Finding.Text)
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	return c.lives(d.out, m)
}

// lives lists the mutants that no scenario kills, with what flies one again.
func (c *mutantsCmd) lives(w io.Writer, m *mutants.Binary) error {
	lives := 0
	for i := range m.Flips {
		f := &m.Flips[i]
		if f.Killed() {
			continue
		}
		lives++
		why := "every scenario passes that executes it"
		if f.Outcome == mutants.Unreached {
			why = "no scenario executes it"
		}
		sayf(w, "\nLIVES %s: %s\n", f.String(), why)
		sayf(w, "  repeat: add &flip=0x%x to the address of the board\n", f.Address)
	}
	if lives > 0 {
		return status{code: failed}
	}
	return nil
}
