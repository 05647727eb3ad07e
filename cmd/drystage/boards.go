package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"golang.org/x/term"

	"drystage/harness"
	"drystage/harness/files/suite"
	"drystage/harness/run"
	"drystage/harness/show/report"
)

// boardFlags give the addresses of boards and rig, and how to fly. All commands that fly have them.
type boardFlags struct {
	benchFlags
	Timeout     time.Duration `default:"2s" help:"How long a board may take to answer."`
	AnswerLimit time.Duration `placeholder:"DURATION" help:"An answer of a board that takes longer than this leaves the run unsure. As the board's file says, or one period of its fastest sensor, and 20 in real time, if not given."`
	LateLimit   time.Duration `placeholder:"DURATION" help:"In real time: a frame that leaves later than this leaves the run unsure. One period of the fastest sensor, if not given."`
}

// benchFlags give the boards of a bench and what they sit on.
type benchFlags struct {
	Board    []string `placeholder:"[ROLE=]ADDR" sep:"none" help:"Where a board is: mock, mock:DEFECT, exec:PROGRAM ARGS, serial:PORT?baud=N, unix:PATH, tcp:HOST:PORT, avr:FIRMWARE.elf?wiring=FILE. ROLE= for one role only. Default: mock."`
	NMEA     []string `name:"nmea" placeholder:"ROLE=ADDR" sep:"none" help:"Where the NMEA 0183 input of a board is, to feed it what its GNSS receiver says: serial:PORT?baud=N, unix:PATH, tcp:HOST:PORT."`
	Rig      string   `placeholder:"FILE" help:"The rig that the boards sit on: pins that see their outputs, switches, dummy loads."`
	RealTime bool     `help:"Fly by the clock on the wall, against the boards' own clocks; one flight at a time."`
	Inert    bool     `help:"I confirm: no motor, igniter or charge is connected to any board, only dummy loads."`
}

// options are those of a bench that flies up to jobs flights at once.
func (c *boardFlags) options(d *console, jobs int) (run.Options, error) {
	if err := c.check(); err != nil {
		return run.Options{}, err
	}
	opt, err := c.benchFlags.options(d, jobs)
	opt.Timeout, opt.AnswerLimit, opt.LateLimit = c.Timeout, c.AnswerLimit, c.LateLimit
	return opt, err
}

// check wants each limit to be one of this kind of flight.
func (c *boardFlags) check() error {
	if c.LateLimit != 0 && !c.RealTime {
		return wrongUse("--late-limit is of flights in real time: say --real-time, too, or leave it out")
	}
	return nil
}

// options are those of a bench whose limits somebody else says.
func (c *benchFlags) options(d *console, jobs int) (run.Options, error) {
	if c.onBench() {
		return run.Options{}, wrongUse("--board %s is a bench that a worker offers at a queue: name the queue, --queue nats://HOST:PORT", c.Board[0])
	}
	guard, err := guardArgs()
	return run.Options{
		Boards: c.Board, NMEA: c.NMEA, Rig: c.Rig, RealTime: c.RealTime, Jobs: jobs,
		Dial: d.dial, Guard: guard, Notes: d.err, Confirm: func() error { return confirm(d, c.Inert) },
	}, err
}

// open opens a bench for plans. close closes it and adds its error.
func (c *boardFlags) open(d *console, jobs int, plans []harness.Plan) (b *run.Bench, close func(error) error, err error) {
	if err := c.adopt(d, plans); err != nil {
		return nil, nil, err
	}
	opt, err := c.options(d, jobs)
	if err != nil {
		return nil, nil, err
	}
	return openBench(d, opt, plans)
}

func openBench(d *console, opt run.Options, plans []harness.Plan) (b *run.Bench, close func(error) error, err error) {
	if b, err = run.Open(d.ctx, opt, plans); err != nil {
		return nil, nil, benchError(err)
	}
	return b, func(err error) error {
		if cerr := b.Close(); cerr != nil {
			fmt.Fprintln(d.err, "drystage:", cerr)
			err = cmp.Or(err, error(status{code: unsure}))
		}
		return err
	}, nil
}

// withoutNMEA gives plans whose boards have no NMEA 0183 input, for commands that don't feed one.
func withoutNMEA(plans ...harness.Plan) []harness.Plan {
	plans = slices.Clone(plans)
	for i := range plans {
		plans[i].Boards = slices.Clone(plans[i].Boards)
		for k := range plans[i].Boards {
			plans[i].Boards[k].NMEA = harness.NMEA{}
		}
	}
	return plans
}

// benchError gives an error of a bench its exit status.
func benchError(err error) error {
	var own status
	var no run.RefusedError
	var broken run.FailedError
	switch {
	case err == nil, errors.As(err, &own):
		return err
	case errors.As(err, &no):
		return status{refused, err}
	case errors.As(err, &broken):
		return status{unsure, err}
	}
	return status{misused, err}
}

// repeat gives the part of a command line that repeats a run.
func (c *boardFlags) repeat() string {
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

// flightFlags are those of commands that fly many flights.
type flightFlags struct {
	Seed  *uint64 `help:"Fly with this seed instead of the scenario's own."`
	Jobs  int     `placeholder:"N" help:"Flights at once, as many as there are processors if not given; 1 for boards that are not ours to start."`
	Quiet bool    `short:"q" help:"No progress bar."`
}

// load reads the scenarios that paths mean.
func (c *flightFlags) load(d *console, paths []string) (suite.Suite, error) {
	paths, err := d.scenarios(paths)
	if err != nil {
		return suite.Suite{}, err
	}
	if p, _ := d.project(); p != nil && c.Jobs == 0 {
		c.Jobs = p.Jobs
	}
	s, err := suite.Load(paths, d.err)
	for i := range s.Plans {
		if c.Seed != nil {
			s.Plans[i].Setup.Seed = *c.Seed
		}
	}
	return s, err
}

// caution is printed before a board that may have real outputs is opened.
const caution = `CAUTION: this drives a real flight computer. No motor, igniter or charge may be connected to it or
lie near it: dummy loads only, current-limited supply, eye protection. Follow your national code, your
range safety officer and the makers' instructions.`

const confirmation = "dummy loads only"

// confirm prints the caution and requires --inert, or the confirmation typed at a terminal.
func confirm(d *console, inert bool) error {
	fmt.Fprintln(d.err, caution)
	if inert {
		return nil
	}
	if f, ok := d.in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		sayf(d.err, "\nLook at every output of every board now. Then type %q: ", confirmation)
		text, _ := bufio.NewReader(d.in).ReadString('\n')
		if strings.TrimSpace(text) == confirmation {
			return nil
		}
		return status{refused, errors.New("refused: not confirmed")}
	}
	return status{refused, errors.New("refused: say --inert once you have checked that only dummy loads are connected")}
}

// guardArgs gives the command that starts this program as the guard of a rig's pins.
func guardArgs() ([]string, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, errorf("the pins' guard: %w", err)
	}
	return []string{self, "guard"}, nil
}

// interrupted gives an error of an interrupt its status and text; other errors are unchanged.
func interrupted(err error, format string, a ...any) error {
	if errors.Is(err, context.Canceled) {
		return status{unsure, errorf("interrupted "+format, a...)}
	}
	return err
}
