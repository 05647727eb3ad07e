package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"drystage/harness"
	"drystage/harness/board/mock"
	"drystage/harness/files/suite"
	"drystage/harness/judge/compare"
	"drystage/harness/judge/coverage"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
	"drystage/harness/show/report"
)

type benchCmd struct {
	Paths []string `arg:"" optional:"" predictor:"file" help:"Scenario files or folders; without one, those of the project, or else the shipped suite."`
	boardFlags
	flightFlags
	queueFlags
	liveFlags
	Out              string `placeholder:"DIR" type:"path" help:"Write a record per scenario into this folder."`
	Format           string `enum:"text,json,junit" default:"text" help:"text, json or junit."`
	HTML             string `name:"html" placeholder:"FILE" help:"Write the evidence as a page with pictures: what was demanded, what happened, how close it was."`
	Against          string `placeholder:"DIR" help:"Compare with the records in this folder: which margins grew or shrank, and what fails that did not."`
	WorseFails       bool   `help:"With --against: end with 1 if a margin is smaller, or an expectation unsure, that was not."`
	Markdown         string `placeholder:"FILE" type:"path" help:"Write a summary in Markdown, for the page of a job."`
	Annotations      string `placeholder:"FILE" type:"path" help:"Write what did not pass as workflow commands with file and line, for the page of a job."`
	Repeat           int    `default:"1" placeholder:"N" help:"Fly the whole suite N times, and count: for faults that come and go."`
	UntilFail        bool   `help:"With --repeat: stop at the first verdict that is not a pass."`
	Coverage         bool   `help:"Print which kinds of fault were tried in which phases of flight, after the verdicts."`
	FirmwareCoverage string `placeholder:"DIR" type:"path" help:"Write which lines and branches of an emulated chip's firmware the flights have executed into this folder: LCOV for each scenario and for all, and a page."`
	List             bool   `help:"List the scenarios and leave."`
	ListDefects      bool   `help:"List the mock board's defects, each with the accident it would cause, and leave."`

	page  evidencePage
	code  firmwareCoverage
	bench *run.Bench
	suite suite.Suite

	earlier []harness.Verdict // of --against, read before new records may replace theirs
}

// Run flies the scenarios and judges them.
func (c *benchCmd) Run(d *console) (err error) {
	defer c.leave()
	if c.ListDefects {
		return listDefects(d)
	}
	if c.suite, err = c.load(d, c.Paths); err != nil {
		return err
	}
	if c.List {
		for _, p := range c.suite.Plans {
			sayf(d.out, "%-28s %s\n", p.Name, p.Title)
		}
		return report.Foreign(d.out, c.suite.Foreign, "listed")
	}
	if err := c.prepare(d); err != nil {
		return err
	}
	if c.Queue == "" {
		done, oerr := c.openHere(d)
		if oerr != nil {
			return oerr
		}
		defer c.close() // after the bench, so that the page sees its end
		defer func() { err = done(err) }()
	}
	if c.Repeat != 1 || c.UntilFail {
		return c.soak(d)
	}
	began := time.Now()
	var tried coverage.Table
	verdicts, err := c.fly(d, &tried)
	if len(verdicts) == 0 && err != nil {
		return err
	}
	opt := c.reportOptions(verdicts, began)
	if werr := c.print(d, verdicts, opt); werr != nil {
		return werr
	}
	if c.Coverage {
		fmt.Fprintln(d.out)
		if werr := report.Coverage(d.out, &tried); werr != nil {
			return werr
		}
	}
	if werr := c.code.write(d, c.Format); werr != nil {
		return werr
	}
	if werr := c.page.write(d, c.Format, report.Options{Repeat: c.repeatSent(&c.boardFlags)}); werr != nil {
		return werr
	}
	if err != nil {
		return incomplete(verdicts, err)
	}
	if c.WorseFails && opt.Against.Worst() >= compare.Worse {
		return status{code: failed}
	}
	return status{code: code(harness.Worst(verdicts))}.orNil()
}

// openHere opens the bench on this machine, what counts the firmware's instructions and the live page.
func (c *benchCmd) openHere(d *console) (done func(error) error, err error) {
	opt, err := c.options(d, c.Jobs)
	if err != nil {
		return nil, err
	}
	opt.Counts, c.code.dir = c.FirmwareCoverage, c.FirmwareCoverage
	if err := c.code.open(c.Board, c.suite.Plans); err != nil {
		return nil, err
	}
	if err := c.serve(d, &opt, len(c.suite.Plans)); err != nil {
		return nil, err
	}
	if c.bench, done, err = openBench(d, opt, c.suite.Plans); err != nil {
		c.close()
	}
	return done, err
}

// prepare takes what the project says, checks all, and reads the earlier records.
func (c *benchCmd) prepare(d *console) (err error) {
	if err := c.outlets(d); err != nil {
		return err
	}
	if err := c.check(); err != nil {
		return err
	}
	if err := c.adopt(d, c.suite.Plans); err != nil {
		return err
	}
	c.earlier, err = earlierVerdicts(c.Against)
	return err
}

// listDefects lists those of the built-in board.
func listDefects(d *console) error {
	for _, x := range mock.Defects() {
		sayf(d.out, "%-28s %s\n", x.Name, x.Accident)
	}
	return nil
}

// check rejects flags that don't go together, and a page that can't be written, before the flights.
func (c *benchCmd) check() error {
	if c.Repeat < 1 {
		return wrongUse("--repeat %d: wanted at least 1", c.Repeat)
	}
	if c.HTML != "" && (c.Repeat != 1 || c.UntilFail) {
		return wrongUse("--repeat counts verdicts and keeps no pictures; leave out --html, or make a page of what it keeps: --out DIR, then drystage show DIR/NAME.record --html FILE")
	}
	if c.Queue != "" && (c.Repeat != 1 || c.UntilFail) {
		return wrongUse("--repeat looks for what comes and goes on one bench; leave out --queue")
	}
	if c.FirmwareCoverage != "" && (c.Queue != "" || c.Repeat != 1 || c.UntilFail) {
		return wrongUse("--firmware-coverage counts one run of each scenario on this computer; leave out --queue, --repeat and --until-fail")
	}
	if c.WorseFails && c.Against == "" {
		return wrongUse("--worse-fails says worse than what: give earlier records with --against DIR")
	}
	if (c.Repeat != 1 || c.UntilFail) && c.Against+c.Markdown+c.Annotations != "" {
		return wrongUse("--repeat counts verdicts; leave out --against, --markdown and --annotations")
	}
	if c.Coverage && c.Format != "text" {
		return wrongUse("--coverage is a table for people; leave out --format %s", c.Format)
	}
	if c.Live && c.Queue != "" {
		return wrongUse("--live follows flights of this computer; leave out --queue")
	}
	if c.Live && (c.Repeat != 1 || c.UntilFail) {
		return wrongUse("--live follows one run of each scenario; leave out --repeat and --until-fail")
	}
	c.page = evidencePage{file: c.HTML}
	return c.page.check()
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

// incomplete gives an interrupted run the status of failure if a verdict before was a fail.
func incomplete(vs []harness.Verdict, err error) error {
	if harness.Worst(vs) == harness.Fail {
		return status{failed, err}
	}
	return err
}

// notFlown gives record and verdict of a plan that was not flown: the verdict is unsure.
func notFlown(p *harness.Plan, why error) (harness.Record, harness.Verdict) {
	rec := harness.Record{Plan: *p, Made: run.Maker(), Cause: "not flown: " + why.Error()}
	v := verdict.Judge(&rec)
	v.NotFlown = why.Error()
	return rec, v
}

// fly flies the plans and judges them. Plans that were not flown after an error or an interrupt are in the verdicts as not
// flown.
func (c *benchCmd) fly(d *console, tried *coverage.Table) ([]harness.Verdict, error) {
	plans := c.suite.Plans
	if err := makeFolder(c.Out, plans); err != nil {
		return nil, err
	}
	bar := newProgress(d.err, len(plans), c.Quiet)
	defer bar.done()
	var verdicts []harness.Verdict
	err := c.flyAll(d, plans, func(_ int, rec *harness.Record, v harness.Verdict) error {
		verdicts = append(verdicts, v)
		tried.Add(rec)
		c.page.add(rec, v)
		bar.step(v)
		c.verdict(&v)
		if err := c.code.add(c.bench, &rec.Plan); err != nil {
			return err
		}
		if c.Out == "" {
			return nil
		}
		return save(filepath.Join(c.Out, rec.Plan.Name+".record"), rec)
	})
	if err == nil {
		return verdicts, nil
	}
	err = interrupted(err, "after %d of %d scenarios", len(verdicts), len(plans))
	for i := len(verdicts); i < len(plans); i++ {
		rec, v := notFlown(&plans[i], err)
		verdicts = append(verdicts, v)
		c.page.add(&rec, v)
	}
	return verdicts, err
}

// makeFolder makes the folder for records, and refuses two scenarios whose records would have one name.
func makeFolder(out string, plans []harness.Plan) error {
	if out == "" {
		return nil
	}
	files := map[string]string{}
	for _, p := range plans {
		if other, ok := files[p.Name]; ok {
			return wrongUse("%s and %s would both write %s.record; give one of them another name", other, p.File, p.Name)
		}
		files[p.Name] = p.File
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return status{misused, err}
	}
	return nil
}

// reportOptions tells of the run, and of earlier records if any are named.
func (c *benchCmd) reportOptions(vs []harness.Verdict, began time.Time) report.Options {
	opt := report.Options{
		Began: began, Took: time.Since(began), Host: run.Hostname(), Made: run.Maker(), Repeat: c.repeatSent(&c.boardFlags),
		Foreign: c.suite.Foreign,
	}
	if c.Against != "" {
		opt.Against = compare.Of(c.earlier, vs)
		opt.Against.With = c.Against
	}
	return opt
}

// print prints the verdicts, and writes what other programs are to read of them.
func (c *benchCmd) print(d *console, vs []harness.Verdict, opt report.Options) error {
	if err := printVerdicts(d, c.Format, vs, opt); err != nil {
		return err
	}
	for _, x := range []struct {
		file  string
		write func(io.Writer) error
	}{
		{c.Markdown, func(w io.Writer) error { return report.Markdown(w, vs, opt) }},
		{c.Annotations, func(w io.Writer) error { return report.WriteAnnotations(w, report.Annotations(vs)) }},
	} {
		if x.file == "" {
			continue
		}
		if err := writeWhole(x.file, x.write); err != nil {
			return status{misused, err}
		}
	}
	return nil
}

func jobs() string { return fmt.Sprint(runtime.NumCPU()) }

// problemsError joins problems into one error of status misused.
func problemsError(ps []harness.Problem) error { return status{misused, suite.Joined(ps)} }

// flyAll flies plans here or, with a queue, has its workers fly them; their records are judged here.
func (c *benchCmd) flyAll(d *console, plans []harness.Plan, done func(i int, rec *harness.Record, v harness.Verdict) error) error {
	if c.bench != nil {
		return flyPlans(d.ctx, c.bench, plans, done)
	}
	b, err := c.bundle(plans, &c.boardFlags)
	if err != nil {
		return err
	}
	return c.sendWhole(d, b, done)
}
