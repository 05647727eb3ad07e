package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/mock"
	"drystage/harness/judge/coverage"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/campaign"
	"drystage/harness/run/loop"
	"drystage/harness/show/report"
	"drystage/sim"
	"drystage/sim/world"
)

type benchCmd struct {
	Paths       []string      `arg:"" optional:"" help:"Scenario files or folders; without one, the shipped suite."`
	Board       []string      `placeholder:"[ROLE=]ADDR" sep:"none" help:"Where a board is: mock, mock:DEFECT, exec:PROGRAM ARGS, serial:PORT?baud=N, unix:PATH, tcp:HOST:PORT. ROLE= for one role only. Default: mock."`
	NMEA        []string      `name:"nmea" placeholder:"ROLE=ADDR" sep:"none" help:"Where the NMEA 0183 input of a board is, to feed it what its GNSS receiver says: serial:PORT?baud=N, unix:PATH, tcp:HOST:PORT."`
	Rig         string        `placeholder:"FILE" help:"The rig that the boards sit on: pins that see their outputs, switches, dummy loads."`
	Seed        *uint64       `help:"Fly every scenario with this seed instead of its own."`
	Out         string        `placeholder:"DIR" type:"path" help:"Write a record per scenario into this folder."`
	Format      string        `enum:"text,json,junit" default:"text" help:"text, json or junit."`
	HTML        string        `name:"html" placeholder:"FILE" help:"Write the evidence as a page with pictures: what was demanded, what happened, how close it was."`
	Quiet       bool          `short:"q" help:"No progress bar."`
	Jobs        int           `default:"${jobs}" help:"Scenarios flown at once; 1 for boards that are not ours to start."`
	Timeout     time.Duration `default:"2s" help:"How long a board may take to answer."`
	RealTime    bool          `help:"Fly by the clock on the wall, against the boards' own clocks; one scenario at a time."`
	AnswerLimit time.Duration `placeholder:"DURATION" help:"An answer of a board that takes longer than this leaves the run unsure. As the board's file says, or one period of its fastest sensor, and 20 in real time, if not given."`
	LateLimit   time.Duration `placeholder:"DURATION" help:"In real time: a frame that leaves later than this leaves the run unsure. One period of the fastest sensor, if not given."`
	Inert       bool          `help:"I confirm: no motor, igniter or charge is connected to any board, only dummy loads."`
	Repeat      int           `default:"1" placeholder:"N" help:"Fly the whole suite N times, and count: for faults that come and go."`
	UntilFail   bool          `help:"With --repeat: stop at the first verdict that is not a pass."`
	Coverage    bool          `help:"Print which kinds of fault were tried in which phases of flight, after the verdicts."`
	List        bool          `help:"List the scenarios and leave."`
	ListDefects bool          `help:"List the mock board's defects, each with the accident it would cause, and leave."`

	page    evidence
	ports   outlets
	where   []harness.BoardAddress                 // the boards
	foreign []string                               // files below the folders that are none of ours
	on      *onRig                                 // nil without --rig
	played  map[string]func(*sim.Setup) sim.Source // by the file of a plan with a log
}

// Run flies the scenarios and judges them.
func (c *benchCmd) Run(d *desk) (err error) {
	if c.ListDefects {
		for _, x := range mock.Defects() {
			sayf(d.out, "%-28s %s\n", x.Name, x.Accident)
		}
		return nil
	}
	plans, err := c.load(d)
	if err != nil {
		return err
	}
	if c.List {
		for _, p := range plans {
			sayf(d.out, "%-28s %s\n", p.Name, p.Title)
		}
		return report.Foreign(d.out, c.foreign, "listed")
	}
	seats, err := seat(c.Board, rolesOf(plans))
	if err != nil {
		return err
	}
	if err := c.agree(); err != nil {
		return err
	}
	unseat, err := c.outfit(d, &seats, plans)
	if err != nil {
		return err
	}
	defer func() { err = unseat(err) }()
	if c.Repeat != 1 || c.UntilFail {
		return c.soak(d, &seats, plans)
	}
	began := time.Now()
	var tried coverage.Table
	verdicts, err := c.fly(d, &seats, plans, &tried)
	if len(verdicts) == 0 && err != nil {
		return err
	}
	if werr := c.print(d, verdicts, began); werr != nil {
		return werr
	}
	if c.Coverage {
		fmt.Fprintln(d.out)
		if werr := report.Coverage(d.out, &tried); werr != nil {
			return werr
		}
	}
	if werr := c.page.write(d, c.Format, report.Options{Repeat: c.repeat()}); werr != nil {
		return werr
	}
	if err != nil {
		return stopped(verdicts, err)
	}
	return status{code: code(harness.Worst(verdicts))}.orNil()
}

// agree refuses flags that don't go together, and a page that can't be written, before anything flies.
func (c *benchCmd) agree() error {
	if c.Repeat < 1 {
		return wrongUse("--repeat %d: wanted at least 1", c.Repeat)
	}
	if c.HTML != "" && (c.Repeat != 1 || c.UntilFail) {
		return wrongUse("--repeat counts verdicts and keeps no pictures; leave out --html, or make a page of what it keeps: --out DIR, then drystage show DIR/NAME.record --html FILE")
	}
	if c.Coverage && c.Format != "text" {
		return wrongUse("--coverage is a table for people; leave out --format %s", c.Format)
	}
	c.page = evidence{file: c.HTML}
	return c.page.check()
}

// outfit opens what boards speak to beside the bench, and mounts them on their rig, if there is one. unseat
// closes all of it, and makes an error of what went wrong there.
func (c *benchCmd) outfit(d *desk, seats *seating, plans []harness.Plan) (unseat func(error) error, err error) {
	if err := feed(c.NMEA, plans); err != nil {
		return nil, err
	}
	seats.feeds = len(c.NMEA) > 0
	if c.on, err = c.mount(d, seats, plans); err != nil {
		return nil, err
	}
	if c.ports, err = openOutlets(d, seats, plans); err != nil {
		return nil, errors.Join(err, c.on.close())
	}
	c.where = seats.list(plans)
	return func(err error) error {
		defer c.ports.close()
		if cerr := c.on.close(); cerr != nil {
			fmt.Fprintln(d.err, "drystage:", cerr)
			err = cmp.Or(err, error(status{code: unsure}))
		}
		return err
	}, nil
}

func (s status) orNil() error {
	if s.code == passed {
		return nil
	}
	return s
}

// code is the exit status for an answer.
func code(a harness.Answer) int {
	switch a {
	case harness.Pass:
		return passed
	case harness.Fail:
		return failed
	}
	return unsure
}

// load reads every scenario, refuses what these boards can't fly, and makes the plans ready to fly.
func (c *benchCmd) load(d *desk) ([]harness.Plan, error) {
	s, err := plansOf(d, c.Paths)
	if err != nil {
		return nil, err
	}
	plans := s.plans
	c.foreign = s.foreign
	for i := range plans {
		for _, b := range plans[i].Boards {
			if !b.Lockstep && !c.RealTime {
				return nil, wrongUse("%s: board %s says `lockstep: false`: its clock can't be driven; say --real-time", plans[i].File, b.Role)
			}
		}
	}
	return plans, c.prepare(plans)
}

// prepare gives plans their seed, a rehearsal, and the log that is played.
func (c *benchCmd) prepare(plans []harness.Plan) (err error) {
	for i := range plans {
		if c.Seed != nil {
			plans[i].Setup.Seed = *c.Seed
		}
		plans[i].Setup.Rehearsed = world.Rehearse(&plans[i].Setup)
		if plans[i].Log.File != "" {
			if c.played == nil {
				c.played = map[string]func(*sim.Setup) sim.Source{}
			}
			if c.played[plans[i].File], err = played(&plans[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// source is the simulated world, unless a log is played in its place.
func source(log func(*sim.Setup) sim.Source) func(*sim.Setup) sim.Source {
	if log != nil {
		return log
	}
	return func(s *sim.Setup) sim.Source { return world.New(s) }
}

// caution is said before any board that may have real outputs is touched.
const caution = `CAUTION: this drives a real flight computer. No motor, igniter or charge may be connected to it or
lie near it: dummy loads only, current-limited supply, eye protection. Follow your national code, your
range safety officer and the makers' instructions.`

func (c *benchCmd) safe(d *desk, s *seating) error {
	if !s.real() {
		return nil
	}
	if err := confirm(d, c.Inert); err != nil {
		return err
	}
	c.Jobs = 1
	return nil
}

// stopped gives a run that did not come to its end the status of what failed before, if anything did.
func stopped(vs []harness.Verdict, err error) error {
	if harness.Worst(vs) == harness.Fail {
		return status{failed, err}
	}
	return err
}

// missing is the verdict on a plan that was not flown, and why: what is on no record is unsure.
func missing(p *harness.Plan, why error) (harness.Record, harness.Verdict) {
	rec := harness.Record{Plan: *p, Made: maker(), Cause: "not flown: " + why.Error()}
	v := verdict.Judge(&rec)
	v.NotFlown = why.Error()
	return rec, v
}

// cutOff says that a flight was cut off by us, and so tells nothing of its boards.
func cutOff(d *desk, rec *harness.Record) error {
	if rec.Complete() {
		return nil
	}
	return d.ctx.Err()
}

// fly flies the plans and judges them. What an error, or a person, kept from being flown stands as that.
func (c *benchCmd) fly(d *desk, seats *seating, plans []harness.Plan, tried *coverage.Table) ([]harness.Verdict, error) {
	if err := c.shelf(plans); err != nil {
		return nil, err
	}
	bar := newProgress(d.err, len(plans), c.Quiet)
	defer bar.done()
	var verdicts []harness.Verdict
	err := campaign.Fly(d.ctx, c.flights(d, seats, plans), c.jobs(), func(i int, rec *harness.Record) error {
		if err := cutOff(d, rec); err != nil {
			return err
		}
		c.on.settle(i, rec)
		v := verdict.Judge(rec)
		verdicts = append(verdicts, v)
		tried.Add(rec)
		c.page.add(rec, v)
		bar.step(v)
		if c.Out == "" {
			return nil
		}
		return save(filepath.Join(c.Out, rec.Plan.Name+".record"), rec)
	})
	if err == nil {
		return verdicts, nil
	}
	if errors.Is(err, context.Canceled) {
		err = status{unsure, errorf("interrupted after %d of %d scenarios", len(verdicts), len(plans))}
	}
	for i := len(verdicts); i < len(plans); i++ {
		rec, v := missing(&plans[i], err)
		verdicts = append(verdicts, v)
		c.page.add(&rec, v)
	}
	return verdicts, err
}

// flights are the plans with all that flies them.
func (c *benchCmd) flights(d *desk, seats *seating, plans []harness.Plan) []campaign.Flight {
	flights := make([]campaign.Flight, len(plans))
	for i := range plans {
		pacer, clock := c.pace(&plans[i].Setup)
		flights[i] = campaign.Flight{
			Plan: plans[i], Made: maker(), Pacer: pacer,
			Source: func(s *sim.Setup) sim.Source { return c.on.watch(source(c.played[plans[i].File])(s)) },
			Open: func() ([]board.Board, error) {
				boards, err := seats.open(d, &plans[i], board.Options{Timeout: c.Timeout, Limit: c.AnswerLimit}, clock)
				if boards, err = c.on.seat(i, &plans[i], boards, clock, err); err != nil {
					return boards, err
				}
				return c.ports.wrap(&plans[i], boards, clock == nil), nil
			},
		}
		flights[i].Made.Rig = c.Rig
		for _, b := range plans[i].Boards {
			flights[i].Made.Boards = append(flights[i].Made.Boards, seats.of(b.Role))
		}
	}
	return flights
}

// jobs is how many flights go on at once: in real time, one.
func (c *benchCmd) jobs() int {
	if c.RealTime {
		return 1
	}
	return c.Jobs
}

// pace gives what paces one flight, and the clock of the run, which is nil in lockstep.
func (c *benchCmd) pace(s *sim.Setup) (loop.Pacer, func() sim.Time) {
	if !c.RealTime {
		return loop.Lockstep{}, nil
	}
	limit := sim.Time(c.LateLimit)
	if limit == 0 {
		limit = turn(s)
	}
	p := loop.NewRealTime(loop.RealTimeOptions{Limit: limit})
	return p, p.Now
}

// turn is one period of the fastest sensor of all boards: a frame that leaves later than that has lost its
// turn to the next. Lateness below it adds to the uncertainty of every output that it may have held up.
func turn(s *sim.Setup) sim.Time {
	fastest := s.Fastest()
	if !(fastest > 0) {
		return loop.DefaultLimit
	}
	return sim.Seconds(1 / fastest)
}

// shelf makes the folder for records, and refuses two scenarios whose records would have one name.
func (c *benchCmd) shelf(plans []harness.Plan) error {
	if c.Out == "" {
		return nil
	}
	files := map[string]string{}
	for _, p := range plans {
		if other, ok := files[p.Name]; ok {
			return wrongUse("%s and %s would both write %s.record; give one of them another name", other, p.File, p.Name)
		}
		files[p.Name] = p.File
	}
	if err := os.MkdirAll(c.Out, 0o755); err != nil {
		return status{misused, err}
	}
	return nil
}

func (c *benchCmd) print(d *desk, vs []harness.Verdict, began time.Time) error {
	return printVerdicts(d, c.Format, vs, report.Options{
		Began: began, Took: time.Since(began), Host: hostname(), Made: maker(), Repeat: c.repeat(),
		Foreign: c.foreign,
	})
}

// repeat is the part of a command line that makes a run come out the same again.
func (c *benchCmd) repeat() string {
	out := ""
	for _, b := range c.Board {
		out += " --board " + report.Quoted(b)
	}
	for _, n := range c.NMEA {
		out += " --nmea " + report.Quoted(n)
	}
	if c.RealTime {
		out += " --real-time"
		if c.LateLimit != 0 {
			out += " --late-limit " + c.LateLimit.String()
		}
	}
	if c.AnswerLimit != 0 {
		out += " --answer-limit " + c.AnswerLimit.String()
	}
	if c.Rig != "" {
		out += " --rig " + report.Quoted(c.Rig)
	}
	return out
}

func hostname() string {
	name, err := os.Hostname()
	if err != nil {
		return "unknown"
	}
	return name
}

func jobs() string { return fmt.Sprint(runtime.NumCPU()) }
