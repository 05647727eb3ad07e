// Command drystage flies a rocket's flight computer on the bench, before any motor is loaded.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"

	"github.com/alecthomas/kong"
	kongcompletion "github.com/jotaen/kong-completion"
	"github.com/posener/complete"

	"drystage/harness/board/link"
)

// The exit statuses. A command never ends with passed if a check did not happen.
const (
	passed  = 0
	failed  = 1
	misused = 2 // wrong use, or a wrong file
	unsure  = 3 // nothing failed, but something is unsure
	refused = 4 // for safety
)

// status is an error that carries its exit status.
type status struct {
	code int
	err  error
}

func (s status) Error() string { return s.err.Error() }
func (s status) Unwrap() error { return s.err }

func wrongUse(format string, a ...any) error {
	return status{misused, errorf(format, a...)}
}

// console holds what a command reads from and writes to.
type console struct {
	ctx      context.Context
	end      func() // ends the command as a signal does
	in       io.Reader
	out, err io.Writer
	dial     func(address string, baud int) (link.Link, error) // for tests; nil: as link.Open does
	folder   folderProject
}

type commands struct {
	Bench    benchCmd    `cmd:"" help:"Fly scenarios against boards, print the verdicts, write records."`
	Benches  benchesCmd  `cmd:"" help:"List the workers at a queue, and the benches that they offer."`
	Contract contractCmd `cmd:"" help:"Check that a board speaks the contract, point by point."`
	Defects  defectsCmd  `cmd:"" help:"Tell whether the suite is any good: which scenario catches which known defect, and what slips through."`
	Pace     paceCmd     `cmd:"" help:"Measure how well this machine keeps time, for real-time runs."`
	Examine  examineCmd  `cmd:"" help:"Read a flight log: phases, sensors held against each other, what is odd and why."`
	Explain  explainCmd  `cmd:"" help:"Tell what a kind of file, a key, a fault, an event, a command or any other word means, with unit, default and example."`
	Fly      flyCmd      `cmd:"" help:"Fly a vehicle or scenario without boards: events, stability, landings, loads, warnings; a table, a picture."`
	Hunt     huntCmd     `cmd:"" help:"Look for the worst case inside a scenario's ranges, and shrink it to a small scenario."`
	Mutants  mutantsCmd  `cmd:"" help:"Turn branches of an emulated chip's firmware around, one by one, and tell which of these mutants the suite notices."`
	New      newCmd      `cmd:"" help:"Make a folder for a rocket of your own: vehicle, motors, boards, scenarios that pass."`
	Lint     lintCmd     `cmd:"" help:"Check files: every finding with file:line:column and a hint."`
	Ports    portsCmd    `cmd:"" help:"List this machine's serial ports, with what USB tells of each."`
	Rig      rigCmd      `cmd:"" help:"Check a rig against this computer, show its wiring, measure its pins."`
	Guard    guardCmd    `cmd:"" hidden:""`
	Ready    readyCmd    `cmd:"" help:"The readiness sheet of a vehicle and its boards: what records prove, and what is still open."`
	Replay   replayCmd   `cmd:"" help:"Play a flight log to a board, and show what it does beside what the log tells."`
	Schema   schemaCmd   `cmd:"" help:"Print the JSON Schema of a kind of file, for editors, or of what a command prints as JSON."`
	Show     showCmd     `cmd:"" help:"Judge and report a record again."`
	Sweep    sweepCmd    `cmd:"" help:"Dispersions: fly a scenario many times within its declared ranges; pass rate, margins, what drives them."`
	Play     playCmd     `cmd:"" help:"Play the built-in mock board on standard input and output."`
	Trust    trustCmd    `cmd:"" help:"Let a project's own file start programs and open ports, sockets and a rig."`
	Worker   workerCmd   `cmd:"" help:"Fly what others send to a queue: on this computer's processors, or on the bench that stands here."`
	Version  versionCmd  `cmd:"" help:"Print the version."`

	Completion kongcompletion.Completion `cmd:"" help:"Print what makes bash, zsh or fish complete this program's commands and flags."`
	Man        manCmd                    `cmd:"" help:"Print this program's manual page, for man."`

	NoProject   bool             `help:"Leave a drystage.yaml of this folder, or of one above it, alone."`
	VersionFlag kong.VersionFlag `name:"version" help:"Print the version."`
}

const about = `drystage flies a rocket's flight computer on the bench: a simulated flight makes what its
sensors would say, the board decides, its outputs change the flight, and scenario files judge it.

For inert benches only: no motor, igniter or charge connected, dummy loads only, current-limited
supply. Follow your national code, your range safety officer and the makers' instructions.

Exit status: 0 all passed; 1 something failed; 2 wrong use, a wrong file or output that can't be
written; 3 nothing failed but something is unsure; 4 refused for safety.`

func main() {
	os.Exit(runWithSignals(func(ctx context.Context, end func()) int {
		return execute(os.Args[1:], &console{ctx: ctx, end: end, in: os.Stdin, out: os.Stdout, err: os.Stderr})
	}))
}

// execute runs one command and gives its exit status, which is never that of success if something could not be
// written.
func execute(args []string, d *console) int {
	out := &output{to: d.out}
	_, out.color = terminalSize(d.out)
	words := &output{to: d.err}
	d.out, d.err = out, words
	code := out.exitStatus(dispatch(args, d), words)
	words.flush()
	return code
}

// dispatch parses the arguments and runs the command.
func dispatch(args []string, d *console) error {
	var c commands
	left := -1
	p, err := kong.New(&c, kong.Name("drystage"), kong.Description(about), kong.Writers(d.out, d.err), kong.Vars{"jobs": jobs(), "version": versionText()},
		kong.Exit(func(code int) { left = code }), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		return err
	}
	kongcompletion.Register(p, kongcompletion.WithPredictor("file", complete.PredictFiles("*")))
	if left >= 0 { // the shell asked what could follow
		return status{code: left}.orNil()
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := p.Parse(joinNegativeValues(args))
	if left >= 0 { // kong printed help and meant to leave
		return status{code: left}.orNil()
	}
	if o, ok := d.out.(*output); ok && o.err != nil { // it meant to print help
		return o.err
	}
	if err != nil {
		return wrongUse("%s; see drystage --help", err.Error())
	}
	d.folder.left = c.NoProject
	return k.Run(d)
}

// negativeValue matches the start of a value that looks like a flag: a negative number or a negative axis.
var negativeValue = regexp.MustCompile(`^-([0-9.]|[xyz]$)`)

// joinNegativeValues joins such a value to its flag with =, so that --temperature "-5 degC" is parsed as a value.
func joinNegativeValues(args []string) (out []string) {
	for i, a := range args {
		if a == "--" {
			return append(out, args[i:]...)
		}
		if n := len(out) - 1; n >= 0 && negativeValue.MatchString(a) && strings.HasPrefix(out[n], "--") && !strings.Contains(out[n], "=") {
			out[n] += "=" + a
			continue
		}
		out = append(out, a)
	}
	return out
}

// printError prints an error, unless it is only a status, and gives the exit status.
func printError(err error, w io.Writer) int {
	var s status
	if !errors.As(err, &s) {
		s = status{misused, err}
	}
	if s.err != nil {
		fmt.Fprintln(w, "drystage:", errorText(err))
	}
	return s.code
}
