package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/campaign"
	"drystage/harness/show/report"
	"drystage/harness/vary"
	"drystage/sim/world"
)

// mostFlights bounds a sweep: of each flight a few numbers are kept.
const mostFlights = 100000

type sweepCmd struct {
	Paths       []string      `arg:"" optional:"" help:"Scenario files; what differs from flight to flight is their vary."`
	Flights     int           `default:"100" placeholder:"N" help:"Fly each scenario N times (100)."`
	Only        *int          `placeholder:"I" help:"Fly flight I of the sweep again, bit for bit, and judge it as bench does."`
	Board       []string      `placeholder:"[ROLE=]ADDR" sep:"none" help:"Where a board is, as for bench. Default: mock."`
	NMEA        []string      `name:"nmea" placeholder:"ROLE=ADDR" sep:"none" help:"Where the NMEA 0183 input of a board is, as for bench."`
	Rig         string        `placeholder:"FILE" help:"The rig that the boards sit on."`
	Seed        *uint64       `help:"Draw from this seed instead of the scenario's own."`
	Out         string        `placeholder:"DIR" type:"path" help:"Write the records of flights that did not pass, and of the closest that did, into this folder."`
	Keep        int           `default:"20" placeholder:"N" help:"With --out: keep the records of the first N flights that did not pass (20); --only flies any of them again."`
	Format      string        `enum:"text,json" default:"text" help:"text or json."`
	Quiet       bool          `short:"q" help:"No progress bar."`
	Jobs        int           `default:"${jobs}" help:"Flights flown at once; 1 for boards that are not ours to start."`
	Timeout     time.Duration `default:"2s" help:"How long a board may take to answer."`
	AnswerLimit time.Duration `placeholder:"DURATION" help:"An answer of a board that takes longer than this leaves the run unsure. As the board's file says, or one period of its fastest sensor, and 20 in real time, if not given."`
	RealTime    bool          `help:"Fly by the clock on the wall, one flight at a time."`
	LateLimit   time.Duration `placeholder:"DURATION" help:"In real time: a frame that leaves later than this leaves the run unsure."`
	Inert       bool          `help:"I confirm: no motor, igniter or charge is connected to any board, only dummy loads."`
}

// bench gives the command that seats boards and flies plans, with the flags that it shares with this one.
func (c *sweepCmd) bench() *benchCmd {
	return &benchCmd{
		Paths: c.Paths, Board: c.Board, NMEA: c.NMEA, Rig: c.Rig, Seed: c.Seed, Out: c.Out, Quiet: c.Quiet, Jobs: c.Jobs, Timeout: c.Timeout, AnswerLimit: c.AnswerLimit,
		RealTime: c.RealTime, LateLimit: c.LateLimit, Inert: c.Inert, Format: c.Format, Repeat: 1,
	}
}

// check refuses what makes no sweep.
func (c *sweepCmd) check() error {
	switch {
	case len(c.Paths) == 0:
		return wrongUse("name a scenario to sweep; its `vary` says what differs (drystage lint --explain vary)")
	case c.Flights < 1 || c.Flights > mostFlights:
		return wrongUse("--flights %d: wanted 1 to %d; a sweep without a flight proves nothing", c.Flights, mostFlights)
	case c.Keep < 0:
		return wrongUse("--keep %d: wanted a number of records", c.Keep)
	case c.Only != nil && (*c.Only < 1 || *c.Only > mostFlights):
		return wrongUse("--only %d: wanted the number of a flight, 1 to %d", *c.Only, mostFlights)
	}
	return nil
}

// Run flies the sweeps, one scenario after the other.
func (c *sweepCmd) Run(d *desk) (err error) {
	if err := c.check(); err != nil {
		return err
	}
	b := c.bench()
	plans, err := b.load(d)
	if err != nil {
		return err
	}
	seats, err := seat(b.Board, rolesOf(plans))
	if err != nil {
		return err
	}
	for i := range plans {
		if plans[i].Log.File != "" {
			return wrongUse("%s plays a flight log, which is the same each time; bench --repeat flies it again", plans[i].File)
		}
	}
	if err := b.shelf(plans); err != nil {
		return err
	}
	unseat, err := b.outfit(d, &seats, plans)
	if err != nil {
		return err
	}
	defer func() { err = unseat(err) }()
	if c.Only != nil {
		return c.one(d, b, &seats, plans)
	}
	return c.all(d, b, &seats, plans)
}

// all flies every sweep and prints what they tell; what was not flown, since somebody stopped it, stands as that.
func (c *sweepCmd) all(d *desk, b *benchCmd, seats *seating, plans []harness.Plan) error {
	began := time.Now()
	bar := newProgress(d.err, c.Flights*len(plans), c.Quiet)
	var sheets []*dispersion.Sheet
	var answers []harness.Verdict
	var err error
	for i := range plans {
		s := dispersion.NewSheet(&plans[i])
		s.Wanted = c.Flights
		if err == nil {
			err = c.fly(d, b, seats, s, bar)
		}
		sheets, answers = append(sheets, s), append(answers, harness.Verdict{Answer: s.Answer()})
	}
	bar.done()
	if werr := c.print(d, b, sheets, began); werr != nil {
		return werr
	}
	if err != nil {
		return stopped(answers, err)
	}
	return status{code: code(harness.Worst(answers))}.orNil()
}

func (c *sweepCmd) print(d *desk, b *benchCmd, sheets []*dispersion.Sheet, began time.Time) error {
	opt := c.options(b, began)
	opt.Seats = b.where
	if c.Format == "json" {
		return report.SweepJSON(d.out, sheets, opt)
	}
	opt.Width, opt.Color = canvas(d.out)
	return report.Sweep(d.out, sheets, opt)
}

func (c *sweepCmd) options(b *benchCmd, began time.Time) report.Options {
	return report.Options{Began: began, Took: time.Since(began), Host: hostname(), Made: maker(), Repeat: b.repeat(), Foreign: b.foreign}
}

// fly flies one sweep and fills its sheet, some flights after the other, so that a long one takes no more
// memory than a short one.
func (c *sweepCmd) fly(d *desk, b *benchCmd, seats *seating, s *dispersion.Sheet, bar *progress) error {
	const some = 500
	for len(s.Flights) < c.Flights {
		err := c.some(d, b, seats, s, bar, min(some, c.Flights-len(s.Flights)))
		if errors.Is(err, context.Canceled) {
			return status{unsure, errorf("interrupted after %d of %d flights of %s", len(s.Flights), c.Flights, s.Plan.File)}
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// some flies the next n flights of a sweep. Plans are drawn when it is their turn, and forgotten when they were
// flown.
func (c *sweepCmd) some(d *desk, b *benchCmd, seats *seating, s *dispersion.Sheet, bar *progress, n int) error {
	first := len(s.Flights) + 1
	plans := slices.Repeat([]harness.Plan{s.Plan}, n)
	flights := b.flights(d, seats, plans)
	for i := range flights {
		flights[i].Draw = func() harness.Plan {
			plans[i] = drawn(&s.Plan, first+i)
			return plans[i]
		}
	}
	return campaign.Fly(d.ctx, flights, b.jobs(), func(i int, rec *harness.Record) error {
		if err := cutOff(d, rec); err != nil {
			return err
		}
		b.on.settle(i, rec)
		v := verdict.Judge(rec)
		bar.step(v)
		near := s.Add(first+i, &rec.Plan, &v)
		plans[i] = harness.Plan{}
		return c.keep(s.Plan.Name, rec, near, v.Answer != harness.Pass && len(s.Flights)-s.Count().Pass <= c.Keep)
	})
}

// drawn gives the plan of a flight, rehearsed.
func drawn(p *harness.Plan, flight int) harness.Plan {
	out := vary.Plan(p, flight)
	out.Setup.Rehearsed = world.Rehearse(&out.Setup)
	return out
}

// keep writes the record of a flight: one that passed nearer to a limit than others over the one before it,
// one that did not pass under its number.
func (c *sweepCmd) keep(sweep string, rec *harness.Record, near, bad bool) error {
	switch {
	case c.Out == "":
		return nil
	case near:
		return save(filepath.Join(c.Out, sweep+".closest.record"), rec)
	case bad:
		return save(filepath.Join(c.Out, rec.Plan.Name+".record"), rec)
	}
	return nil
}

// one flies one flight of each sweep again and judges it as bench does.
func (c *sweepCmd) one(d *desk, b *benchCmd, seats *seating, plans []harness.Plan) error {
	began := time.Now()
	flown := make([]harness.Plan, len(plans))
	for i := range plans {
		flown[i] = drawn(&plans[i], *c.Only)
	}
	var verdicts []harness.Verdict
	err := campaign.Fly(d.ctx, b.flights(d, seats, flown), b.jobs(), func(i int, rec *harness.Record) error {
		if err := cutOff(d, rec); err != nil {
			return err
		}
		b.on.settle(i, rec)
		verdicts = append(verdicts, verdict.Judge(rec))
		return c.keep(plans[i].Name, rec, false, true)
	})
	if errors.Is(err, context.Canceled) {
		err = status{unsure, errorf("interrupted after %d of %d flights", len(verdicts), len(flown))}
	}
	for i := len(verdicts); err != nil && i < len(flown); i++ {
		_, v := missing(&flown[i], err)
		verdicts = append(verdicts, v)
	}
	if c.Format == "text" {
		c.asScenario(d, plans, flown)
	}
	if werr := printVerdicts(d, c.Format, verdicts, c.options(b, began)); werr != nil {
		return werr
	}
	if err != nil {
		return stopped(verdicts, err)
	}
	return status{code: code(harness.Worst(verdicts))}.orNil()
}

// asScenario prints flights as scenarios of their own, to be kept beside the one that was swept.
func (c *sweepCmd) asScenario(d *desk, plans, flown []harness.Plan) {
	for i := range flown {
		sayf(d.out, "# flight %d of %s as a scenario of its own\ndrystage: scenario\nlike: %s\nseed: %d\n",
			flown[i].Drawn.Flight, plans[i].File, filepath.Base(plans[i].File), flown[i].Setup.Seed)
		if len(flown[i].Set) > 0 {
			fmt.Fprintln(d.out, "set:")
		}
		for _, x := range flown[i].Set {
			sayf(d.out, "  - {of: %s, is: %s}\n", x.Name, vary.Text(x))
		}
		fmt.Fprintln(d.out)
	}
}
