package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os/user"
	"slices"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/files/suite"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
	"drystage/harness/run/campaign"
	"drystage/harness/show/report"
)

// serverFlags say where a queue is, and who we are there.
type serverFlags struct {
	Queue            string `placeholder:"nats://HOST:PORT" env:"DRYSTAGE_QUEUE" help:"The NATS server with JetStream that holds the queue; tls:// for TLS."`
	QueueCredentials string `placeholder:"FILE" type:"path" help:"The queue's user credentials."`
	QueueCA          string `name:"queue-ca" placeholder:"FILE" type:"path" help:"The certificates that the queue's must follow from; the system's, if not given."`
	QueueCert        string `placeholder:"FILE" type:"path" help:"Our own certificate for the queue, with --queue-key."`
	QueueKey         string `placeholder:"FILE" type:"path" help:"The key of --queue-cert."`
}

// connect reaches the queue.
func (c *serverFlags) connect(ctx context.Context, name string) (*campaign.Queue, error) {
	if (c.QueueCert == "") != (c.QueueKey == "") {
		return nil, wrongUse("--queue-cert and --queue-key belong together")
	}
	q, err := campaign.Connect(ctx, campaign.Options{
		URL: c.Queue, Credentials: c.QueueCredentials, CA: c.QueueCA, Cert: c.QueueCert, Key: c.QueueKey, Name: name,
	})
	if err != nil {
		return nil, status{unsure, errorf("%w", err)}
	}
	return q, nil
}

// queueFlags are those of commands whose flights workers may fly.
type queueFlags struct {
	serverFlags
	QueueWait time.Duration `default:"2m" help:"How long to wait without any worker; what was not flown then is unsure. 0: for ever. How many fly at once, each worker says itself."`
	GiveBack  bool          `help:"With --board bench:NAME: fly again what a bench left unfinished, instead of calling it unsure."`

	sender *campaign.Sender // of all campaigns of the command; nil: none was sent yet
}

// benchScheme begins the address of the boards of a worker's bench.
const benchScheme = "bench:"

// onBench says that the boards are those of a worker's bench.
func (c *benchFlags) onBench() bool {
	return slices.ContainsFunc(c.Board, func(a string) bool { return strings.HasPrefix(a, benchScheme) })
}

// repeatSent gives the part of a command line that repeats a run: on a worker's bench, by the same queue.
func (c *queueFlags) repeatSent(boards *boardFlags) string {
	out := boards.repeat()
	if !boards.onBench() {
		return out
	}
	for _, x := range []struct{ flag, value string }{{"queue", c.Queue}, {"queue-credentials", c.QueueCredentials}, {"queue-ca", c.QueueCA}, {"queue-cert", c.QueueCert}, {"queue-key", c.QueueKey}} {
		if x.value != "" {
			out += " --" + x.flag + " " + report.Quoted(x.value)
		}
	}
	return out
}

// bundle packs plans for workers.
func (c *queueFlags) bundle(plans []harness.Plan, boards *boardFlags) (*campaign.Bundle, error) {
	if err := boards.check(); err != nil {
		return nil, err
	}
	b := &campaign.Bundle{
		Made: run.Maker(), Flights: 1, Batch: 1, Boards: boards.Board, GiveBack: true,
		Timeout: boards.Timeout, AnswerLimit: boards.AnswerLimit, RealTime: boards.RealTime, LateLimit: boards.LateLimit,
	}
	if len(boards.NMEA) > 0 || boards.Rig != "" {
		return nil, wrongUse("with --queue, the worker that offers a bench says --nmea and --rig")
	}
	for _, a := range boards.Board {
		if name, ok := strings.CutPrefix(a, benchScheme); ok {
			if len(boards.Board) > 1 {
				return nil, wrongUse("--board %s is all boards of a worker's bench; leave out the others", a)
			}
			if err := campaign.CheckBench(name); err != nil {
				return nil, wrongUse("--board: %s", err.Error())
			}
			b.Bench, b.Boards, b.Once, b.GiveBack = name, nil, rand.Text(), c.GiveBack
		}
	}
	if b.Bench == "" {
		if err := run.BuiltInOnly(b.Boards); err != nil {
			return nil, wrongUse("%s with --queue; a board of your own is on a bench, which a worker offers by name: --board bench:NAME (drystage worker --help)", err.Error())
		}
		if b.RealTime {
			return nil, wrongUse("--real-time with --queue needs a bench that a worker offers: --board bench:NAME")
		}
		if _, err := run.Addresses(b.Boards, plans); err != nil {
			return nil, wrongUse("%s", err.Error())
		}
	}
	for i := range plans {
		s, err := campaign.SourceOf(&plans[i])
		if err != nil {
			return nil, wrongUse("%s", err.Error())
		}
		b.Plans = append(b.Plans, s)
	}
	return b, nil
}

// seats tells where the boards of plans are.
func (c *queueFlags) seats(plans []harness.Plan, boards *boardFlags) []harness.BoardAddress {
	if boards.onBench() { // alone: bundle refuses others beside them
		out, _ := run.Addresses(nil, plans)
		for i := range out {
			out[i].Address = boards.Board[0]
		}
		return out
	}
	out, _ := run.Addresses(boards.Board, plans) // checked when the bundle was made
	return out
}

// sendWhole has workers fly a campaign; the records of all flights are judged here.
func (c *queueFlags) sendWhole(d *console, b *campaign.Bundle, done func(i int, rec *harness.Record, v harness.Verdict) error) error {
	b.Records = campaign.AllRecords
	return c.send(d, b, func(q *campaign.Sender, i int, f *campaign.Flown) error {
		rec, err := q.Record(d.ctx, f)
		if err != nil {
			return err
		}
		return done(i, &rec, verdict.Judge(&rec))
	})
}

// send has workers fly a campaign, and gives what came of each flight in order.
func (c *queueFlags) send(d *console, b *campaign.Bundle, done func(s *campaign.Sender, i int, f *campaign.Flown) error) error {
	if c.sender == nil {
		q, err := c.connect(d.ctx, "drystage")
		if err != nil {
			return err
		}
		c.sender = &campaign.Sender{Queue: q, Wait: c.QueueWait, Notes: d.err}
	}
	s := c.sender
	err := s.Fly(d.ctx, b, func(i int, f *campaign.Flown) error { return done(s, i, f) })
	var nobody campaign.NoWorkerError
	if errors.As(err, &nobody) {
		return status{unsure, errorf("%w", err)}
	}
	return err
}

// leave leaves the queue, if a campaign was sent.
func (c *queueFlags) leave() {
	if c.sender != nil {
		c.sender.Queue.Close()
	}
}

// workerCmd flies what others send.
type workerCmd struct {
	serverFlags
	Name  string `placeholder:"NAME" help:"What this worker is called; the computer's name, if not given."`
	Jobs  int    `default:"${jobs}" help:"Batches of flights at once; a bench flies one at a time."`
	Bench string `placeholder:"NAME" help:"Offer the boards of --board as the bench of this name, and fly nothing else. How long its boards may take, the sender says."`
	benchFlags
}

// Run flies until it is told to end.
func (c *workerCmd) Run(d *console) error {
	if c.Queue == "" {
		return wrongUse("name the queue: --queue nats://HOST:PORT")
	}
	if c.Name == "" {
		c.Name = run.Hostname()
	}
	if c.Bench != "" {
		if err := c.fromProject(d); err != nil {
			return err
		}
	}
	opt, err := c.options(d, 1)
	if err != nil {
		return err
	}
	switch {
	case c.Bench == "" && (len(c.Board) > 0 || c.Rig != "" || len(c.NMEA) > 0 || c.RealTime):
		return wrongUse("without --bench NAME a worker flies built-in boards; leave out --board, --rig, --nmea and --real-time, or name the bench")
	case c.Bench != "" && len(c.Board) == 0:
		return wrongUse("--bench %s: name its boards with --board, or in a project's drystage.yaml", c.Bench)
	case c.Bench != "":
		if err := campaign.CheckBench(c.Bench); err != nil {
			return wrongUse("--%s", err.Error())
		}
		if err := run.CheckBoards(c.Board); err != nil {
			return wrongUse("%s", err.Error())
		}
		if err := c.agree(opt); err != nil {
			return err
		}
	}
	q, err := c.connect(d.ctx, "drystage worker "+c.Name)
	if err != nil {
		return err
	}
	defer q.Close()
	w := campaign.Worker{Queue: q, Name: c.Name, Jobs: c.Jobs, Bench: c.Bench, Options: opt, Notes: d.err}
	if c.Bench != "" {
		if w.Able, err = c.able(d); err != nil {
			return err
		}
	}
	sayf(d.err, "worker %s at %s; Ctrl-C ends it\n", c.Name, c.Queue)
	return w.Work(d.ctx)
}

// fromProject takes boards, inputs and rig of the bench from the project.
func (c *workerCmd) fromProject(d *console) error {
	p, err := d.project()
	if p == nil || err != nil {
		return err
	}
	plans, err := projectPlans(p)
	if err != nil {
		return err
	}
	return c.adopt(d, plans)
}

// agree has a person confirm, before the bench is offered, what every campaign on it will rely on.
func (c *workerCmd) agree(opt run.Options) error {
	if run.BuiltInOnly(c.Board) == nil {
		return nil
	}
	return opt.Confirm()
}

// able tells what the bench can do, and who has confirmed that it is inert.
func (c *workerCmd) able(d *console) (campaign.Able, error) {
	out := campaign.Able{RealTime: c.RealTime}
	if c.Rig != "" {
		spec, err := suite.Rig(c.Rig, d.err)
		if err != nil {
			return out, benchError(err)
		}
		for _, b := range spec.Boards {
			for _, o := range b.Outputs {
				if o.Capture.Name != "" {
					out.Pins = append(out.Pins, b.Role+"."+o.Name)
				}
			}
		}
	}
	out.Firmware = run.ProgramSums(c.Board)
	if run.BuiltInOnly(c.Board) != nil {
		who := "somebody"
		if u, err := user.Current(); err == nil {
			who = u.Username
		}
		out.Inert = fmt.Sprintf("%s at %s, %s", who, run.Hostname(), time.Now().UTC().Format(time.RFC3339))
	}
	return out, nil
}

// benchesCmd lists who is at a queue.
type benchesCmd struct {
	serverFlags
}

// Run prints the list.
func (c *benchesCmd) Run(d *console) error {
	if c.Queue == "" {
		return wrongUse("name the queue: --queue nats://HOST:PORT")
	}
	q, err := c.connect(d.ctx, "drystage benches")
	if err != nil {
		return err
	}
	defer q.Close()
	all, err := q.Workers(d.ctx)
	if err != nil {
		return status{unsure, errorf("%w", err)}
	}
	if len(all) == 0 {
		fmt.Fprintln(d.out, "nobody is at the queue; drystage worker flies for it")
	}
	own := run.Maker()
	for i := range all {
		p := &all[i]
		what := fmt.Sprintf("built-in boards, %d at once", p.Jobs)
		if p.Bench != "" {
			what = "bench:" + p.Bench + "  " + strings.Join(p.Boards, " ")
			if p.Rig != "" {
				what += "  on the rig " + p.Rig
			}
		}
		if !own.SameProgram(&p.Made) {
			what += "  (drystage " + p.Made.Version + ", " + p.Made.Arch + ": flies nothing of this one)"
		}
		sayf(d.out, "%-20s %s\n", p.Name, what)
		tellAble(d.out, &p.Able)
	}
	return nil
}

// tellAble tells of a bench in lines below its own.
func tellAble(w io.Writer, a *campaign.Able) {
	flies := ""
	if a.RealTime {
		flies = "in real time only"
	}
	for _, x := range [][2]string{{"flies", flies}, {"pins", strings.Join(a.Pins, ", ")}, {"firmware", strings.Join(a.Firmware, ", ")}, {"inert", a.Inert}} {
		if x[1] != "" {
			sayf(w, "%-20s %-9s %s\n", "", x[0], x[1])
		}
	}
}
