package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/judge/dispersion"
	"drystage/harness/run"
	"drystage/harness/run/campaign"
	"drystage/harness/show/report"
	"drystage/harness/show/study"
	"drystage/harness/vary"
	"drystage/sim/quantity"
)

// mostFlights limits a sweep: a few numbers of each flight stay in memory.
const mostFlights = 100000

type sweepCmd struct {
	Paths    []string `arg:"" optional:"" predictor:"file" help:"Scenario files; what differs from flight to flight is their vary."`
	Flights  int      `default:"100" placeholder:"N" help:"Fly each scenario N times (100)."`
	Sampling string   `enum:"random,sobol" default:"random" help:"How values are spread over their ranges: random (each flight independently) or sobol (more even; best with 64, 128, 256 ... flights)."`
	Only     *int     `placeholder:"I" help:"Fly flight I of the sweep again, bit for bit, and judge it as bench does."`
	boardFlags
	flightFlags
	queueFlags
	resumeFlags
	furtherFlags
	UntilWidth string `placeholder:"SHARE" help:"Stop as soon as the 95 % interval of the pass rate is at most so wide, as in 2%; --flights is then the most."`
	Out        string `placeholder:"DIR" type:"path" help:"Write the records of flights that did not pass, and of the closest that did, into this folder."`
	Keep       int    `default:"20" placeholder:"N" help:"With --out: keep the records of the first N flights that did not pass (20); --only flies any of them again."`
	Format     string `enum:"text,json" default:"text" help:"text or json."`
	Samples    string `placeholder:"FILE" type:"path" help:"Write a table with a row a flight, as .csv or .parquet: what was drawn, answers, margins, landings, in SI."`
	HTML       string `name:"html" placeholder:"FILE" help:"Write a page: pass rate, margins as distributions, what drives them, the landings with their ellipses."`

	bench   *run.Bench
	width   float64  // of the interval at which a sweep stops; 0: it doesn't
	foreign []string // files below the folders that are not drystage's
}

// check rejects wrong arguments.
func (c *sweepCmd) check() error {
	switch {
	case len(c.Paths) == 0:
		return wrongUse("name a scenario to sweep; its `vary` says what differs (drystage explain vary)")
	case c.Flights < 1 || c.Flights > mostFlights:
		return wrongUse("--flights %d: wanted 1 to %d; a sweep without a flight proves nothing", c.Flights, mostFlights)
	case c.UntilWidth != "" && !c.takeWidth():
		return wrongUse("--until-width %s: wanted a share between 0 and 100 %%, as in 2%%", c.UntilWidth)
	case c.Only != nil && (c.UntilWidth != "" || c.Indices || c.Rare != "" || c.Samples != ""):
		return wrongUse("--only is one flight; --until-width, --indices, --rare and --samples need many")
	case c.Only != nil && c.Resume != "":
		return wrongUse("--only is one flight, which --resume has no use for; leave one out")
	case c.Keep < 0:
		return wrongUse("--keep %d: wanted a number of records", c.Keep)
	case c.Only != nil && (*c.Only < 1 || *c.Only > mostFlights):
		return wrongUse("--only %d: wanted the number of a flight, 1 to %d", *c.Only, mostFlights)
	case c.Only != nil && c.HTML != "":
		return wrongUse("--html is a page of many flights; leave out --only, or give bench the small scenario that it prints")
	}
	return (&evidencePage{file: c.HTML}).check()
}

// takeWidth reads --until-width.
func (c *sweepCmd) takeWidth() bool {
	x, err := quantity.Parse(strings.ReplaceAll(c.UntilWidth, "%", " %"), quantity.Number)
	c.width = x
	return err == nil && x > 0 && x < 1
}

// points gives how values are spread.
func (c *sweepCmd) points() harness.Points {
	if c.Sampling == harness.Sobol.String() {
		return harness.Sobol
	}
	return harness.Random
}

// Run flies the sweeps, one scenario after the other.
func (c *sweepCmd) Run(d *console) (err error) {
	defer c.leave()
	defer c.end()
	if err := c.check(); err != nil {
		return err
	}
	found, err := c.load(d, c.Paths)
	if err != nil {
		return err
	}
	plans := found.Plans
	c.foreign = found.Foreign
	for i := range plans {
		if plans[i].Log.File != "" {
			return wrongUse("%s plays a flight log, which is the same each time; bench --repeat flies it again", plans[i].File)
		}
	}
	if err := c.furtherFlags.check(c.points(), c.Flights, plans); err != nil {
		return err
	}
	if err := c.samplesOf(plans).check(); err != nil {
		return err
	}
	if err := makeFolder(c.Out, plans); err != nil {
		return err
	}
	if c.Queue != "" && (c.Only == nil || c.onBench()) {
		if err := cmp.Or(c.adopt(d, plans), c.begin(d, c.Queue, plans, run.Options{})); err != nil {
			return err
		}
		if c.Only != nil {
			return c.one(d, plans)
		}
		return c.all(d, plans)
	}
	b, done, err := c.open(d, c.Jobs, plans)
	if err != nil {
		return err
	}
	defer func() { err = done(err) }()
	if err := c.begin(d, "", plans, c.plain()); err != nil {
		return err
	}
	c.bench = b
	if c.Only != nil {
		return c.one(d, plans)
	}
	return c.all(d, plans)
}

// all flies every sweep and prints the results; flights not flown after an interrupt are listed as such.
func (c *sweepCmd) all(d *console, plans []harness.Plan) error {
	began := time.Now()
	bar := newProgress(d.err, c.Flights*len(plans), c.Quiet)
	var sheets []*dispersion.Sheet
	var answers []harness.Verdict
	var err error
	for i := range plans {
		s := dispersion.NewSheet(&plans[i])
		s.Wanted, s.Points = c.Flights, c.points()
		if err == nil {
			err = c.fly(d, s, bar)
		}
		sheets, answers = append(sheets, s), append(answers, harness.Verdict{Answer: s.Answer()})
	}
	bar.done()
	if werr := c.print(d, plans, sheets, began); werr != nil {
		return werr
	}
	if werr := c.samplesOf(plans).write(sheets); werr != nil {
		return werr
	}
	opt := report.Options{Repeat: c.repeatSent(&c.boardFlags)}
	if c.bench != nil {
		opt.Seats = c.bench.Addresses(plans)
	}
	if werr := (&evidencePage{file: c.HTML}).writeOf(d, c.Format, func(w io.Writer) error { return study.Sweep(w, sheets, opt) }); werr != nil {
		return werr
	}
	if err != nil {
		return incomplete(answers, err)
	}
	return status{code: code(harness.Worst(answers))}.orNil()
}

func (c *sweepCmd) print(d *console, plans []harness.Plan, sheets []*dispersion.Sheet, began time.Time) error {
	opt := c.reportOptions(began)
	if c.bench != nil {
		opt.Seats = c.bench.Addresses(plans)
	} else {
		opt.Seats = c.seats(plans, &c.boardFlags)
	}
	if c.Format == "json" {
		return report.SweepJSON(d.out, sheets, opt)
	}
	opt.Width, opt.Color = terminalSize(d.out)
	return report.Sweep(d.out, sheets, opt)
}

func (c *sweepCmd) reportOptions(began time.Time) report.Options {
	return report.Options{Began: began, Took: time.Since(began), Host: run.Hostname(), Made: run.Maker(), Repeat: c.repeatSent(&c.boardFlags), Foreign: c.foreign}
}

// fly flies one sweep and fills its sheet. Each plan is drawn when its flight begins.
func (c *sweepCmd) fly(d *console, s *dispersion.Sheet, bar *progress) error {
	var err error
	limits, only := make([]float64, 0, c.Flights), 0
	if c.Rare != "" {
		only, err = c.only(&s.Plan)
		if err != nil {
			return err
		}
	}
	count := func(i int, p *harness.Plan, f *campaign.Flown, record recorded) error {
		if c.Rare != "" {
			limits = append(limits, dispersion.LimitState(&f.Verdict, len(s.Plan.Expect), only))
		}
		return c.count(s, bar, i, p, f, record)
	}
	if c.bench == nil {
		err = c.flySent(d, s, count)
	} else {
		draw := func(i int) run.Flight {
			p := vary.Plan(&s.Plan, i+1, s.Points)
			return run.Flight{Plan: &p}
		}
		what := func(i int) string { return fmt.Sprintf("%s %v %d", s.Plan.File, s.Points, i+1) }
		err = c.checkpoint.Judged(d.ctx, c.bench, c.Flights, what, draw, func(i int, rec *harness.Record, f *campaign.Flown) error {
			if rec != nil {
				return count(i, &rec.Plan, f, func(name string) error { return save(name, rec) })
			}
			p := vary.Plan(&s.Plan, i+1, s.Points)
			return count(i, &p, f, func(name string) error { return c.again(d, &p, name) })
		})
	}
	if errors.Is(err, errTight) {
		s.Wanted, err = len(s.Flights), nil
	}
	if err == nil {
		return c.further(d, s, bar, limits)
	}
	return interrupted(err, "after %d of %d flights of %s", len(s.Flights), c.Flights, s.Plan.File)
}

// errTight ends the flights of a sweep whose interval is tight enough.
var errTight = errors.New("the interval is tight enough")

// counter takes what came of a flight.
type counter func(i int, p *harness.Plan, f *campaign.Flown, record recorded) error

// recorded writes the record of a flight.
type recorded func(name string) error

// flySent has the workers of the queue fly one sweep.
func (c *sweepCmd) flySent(d *console, s *dispersion.Sheet, count counter) error {
	b, err := c.bundle([]harness.Plan{s.Plan}, &c.boardFlags)
	if err != nil {
		return err
	}
	b.Drawn, b.Points, b.Flights, b.Batch = true, s.Points, c.Flights, min(8, 1+c.Flights/64)
	if c.Out != "" {
		b.Records = campaign.AllRecords
	}
	return c.send(d, b, func(q *campaign.Sender, i int, f *campaign.Flown) error {
		p := vary.Plan(&s.Plan, i+1, s.Points)
		return count(i, &p, f, func(name string) error {
			rec, err := q.Record(d.ctx, f)
			if err != nil {
				return err
			}
			return save(name, &rec)
		})
	})
}

// count adds what came of a flight, and keeps its record: the closest pass so far, in place of the one before, or a
// flight that did not pass, with its number.
func (c *sweepCmd) count(s *dispersion.Sheet, bar *progress, i int, p *harness.Plan, flown *campaign.Flown, record recorded) error {
	v := &flown.Verdict
	bar.step(*v)
	near := s.Add(i+1, p, v)
	s.Flights[len(s.Flights)-1].Landed = flown.Landed
	bad := v.Answer != harness.Pass && len(s.Flights)-s.Count().Pass <= c.Keep
	if c.Out != "" && (near || bad) {
		name := p.Name
		if near {
			name = s.Plan.Name + ".closest"
		}
		if err := record(filepath.Join(c.Out, name+".record")); err != nil {
			return err
		}
	}
	if c.width > 0 && s.Tight(c.width) {
		return errTight
	}
	return nil
}

// again writes the record of a flight that is known, unless it was written when it was flown.
func (c *sweepCmd) again(d *console, p *harness.Plan, name string) error {
	if has(name, p) {
		return nil
	}
	return c.bench.Fly(d.ctx, []harness.Plan{*p}, func(_ int, rec *harness.Record) error { return save(name, rec) })
}

// one flies one flight of each sweep and judges it as bench does.
func (c *sweepCmd) one(d *console, plans []harness.Plan) error {
	began := time.Now()
	flown := make([]harness.Plan, len(plans))
	for i := range plans {
		flown[i] = vary.Plan(&plans[i], *c.Only, c.points())
	}
	var verdicts []harness.Verdict
	err := c.flyOnly(d, plans, flown, func(_ int, rec *harness.Record, v harness.Verdict) error {
		verdicts = append(verdicts, v)
		if c.Out == "" {
			return nil
		}
		return save(filepath.Join(c.Out, rec.Plan.Name+".record"), rec)
	})
	err = interrupted(err, "after %d of %d flights", len(verdicts), len(flown))
	for i := len(verdicts); err != nil && i < len(flown); i++ {
		_, v := notFlown(&flown[i], err)
		verdicts = append(verdicts, v)
	}
	if c.Format == "text" {
		c.asScenario(d, plans, flown)
	}
	if werr := printVerdicts(d, c.Format, verdicts, c.reportOptions(began)); werr != nil {
		return werr
	}
	if err != nil {
		return incomplete(verdicts, err)
	}
	return status{code: code(harness.Worst(verdicts))}.orNil()
}

// flyOnly flies the one flight of each sweep, here or on the bench of a worker.
func (c *sweepCmd) flyOnly(d *console, plans, flown []harness.Plan, done func(i int, rec *harness.Record, v harness.Verdict) error) error {
	if c.bench != nil {
		return flyPlans(d.ctx, c.bench, flown, done)
	}
	b, err := c.bundle(plans, &c.boardFlags)
	if err != nil {
		return err
	}
	b.Drawn, b.First, b.Points = true, *c.Only, c.points()
	return c.sendWhole(d, b, done)
}

// asScenario prints flights as scenarios, to be saved beside the original one.
func (c *sweepCmd) asScenario(d *console, plans, flown []harness.Plan) {
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
