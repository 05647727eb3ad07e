package main

import (
	"cmp"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/board/conformance"
	"drystage/harness/board/contract"
	"drystage/harness/files/suite"
	"drystage/harness/run"
	"drystage/harness/setting"
	"drystage/harness/show/report"
	"drystage/sim"
)

type contractCmd struct {
	Board        string        `placeholder:"ADDR" help:"Where the board is: mock, mock:DEFECT, exec:PROGRAM ARGS, serial:PORT?baud=N, unix:PATH, tcp:HOST:PORT. Default: the project's, or mock."`
	Set          []string      `placeholder:"NAME=VALUE" sep:"none" help:"A setting that the board knows, in SI units; it should give the board its outputs. The mock gets its own."`
	Axis         string        `enum:"+x,+y,+z,-x,-y,-z" default:"+x" help:"Axis of the accelerometer that points to the nose: +x, -x, +y, -y, +z or -z."`
	Rate         []string      `placeholder:"PART=HZ" sep:"none" help:"What the board claims to take: imu=200, baro=50, gnss=10, battery=10 unless told otherwise; 0: not fitted. The IMU is the fastest."`
	Without      []string      `enum:"restart,settings,commands,reports,silence" help:"The board lacks this, and may: restart, settings, commands, reports, or silence for an emulator whose time stands still when nothing comes. Else a point that is not claimed is unsure."`
	Seed         uint32        `default:"1" help:"Of the nonces and the garbage."`
	Format       string        `enum:"text,json,junit" default:"text" help:"text, json or junit."`
	Quiet        bool          `short:"q" help:"One line for each point that passes."`
	Timeout      time.Duration `default:"2s" help:"How long the board may take to answer."`
	Limit        time.Duration `default:"5m" help:"How long all points may take."`
	AnswerLimit  time.Duration `placeholder:"DURATION" help:"An answer to TICK that takes longer is too late; a period of the IMU if not given. An emulator may need more."`
	SettingsList string        `placeholder:"FILE" help:"The list of the firmware's settings: it says which of --set name an output. The built-in board's, if not given."`
	Rig          string        `placeholder:"FILE" help:"Rig on which the board stands: its dummy loads are declared and checked, its pins watched, its supply cut where the board has no RESTART."`
	Role         string        `placeholder:"NAME" help:"Which board of the project, or of --rig, this is; the only one unless told otherwise."`
	Scenario     string        `placeholder:"FILE" help:"Of --rig: says which channel each output is. One of the project, or else scenarios/nominal.yaml, if not given."`
	Inert        bool          `help:"I confirm: no motor, igniter or charge is connected to the board, only dummy loads."`

	settings []harness.Setting // of the project's board
}

// Help gives the text below the first line of the command's help.
func (c *contractCmd) Help() string {
	return "The board is armed, flown through samples of a short flight, and lets its outputs fire.\n\n" + caution
}

// Run tests one board against the contract.
func (c *contractCmd) Run(d *console) error {
	given := c.Scenario
	if err := c.fromProject(d); err != nil {
		return err
	}
	switch {
	case c.Rig != "":
		return c.onRig(d)
	case given != "":
		return wrongUse("--scenario says which channel each output of a --rig is; there is no rig here, leave it out")
	}
	c.Board = cmp.Or(c.Board, "mock")
	opt, err := c.options(d)
	if err != nil {
		return err
	}
	board := harness.Board{Role: cmp.Or(c.Role, "board"), Lockstep: true}
	return c.testPlan(d, &harness.Plan{Boards: []harness.Board{board}, Setup: sim.Setup{Bays: make([]sim.Bay, 1)}}, opt)
}

// onRig tests a board on its rig. Nothing is switched on before the loads are declared, confirmed and, if the board can,
// measured.
func (c *contractCmd) onRig(d *console) error {
	spec, err := suite.Rig(c.Rig, io.Discard)
	if err != nil {
		return err
	}
	plan, err := c.planOf(d, &spec)
	if err != nil {
		return err
	}
	c.Board = cmp.Or(c.Board, spec.Board(plan.Boards[0].Role).Address, "mock")
	opt, err := c.options(d)
	if err != nil {
		return err
	}
	return c.testPlan(d, plan, opt)
}

// testPlan tries all points on the only board of a plan.
func (c *contractCmd) testPlan(d *console, plan *harness.Plan, opt conformance.Options) error {
	flags := benchFlags{Board: []string{c.Board}, Rig: c.Rig, Inert: c.Inert}
	with, err := flags.options(d, 1)
	if err != nil {
		return err
	}
	with.NoRig = true
	b, err := run.Open(d.ctx, with, []harness.Plan{*plan})
	if err != nil {
		return benchError(err)
	}
	if b.Rig != nil {
		opt.Stand = b.Rig.Stand(&plan.Setup.Bays[0])
		err = benchError(b.Supply(d.ctx, &plan.Setup.Bays[0]))
	}
	if err == nil {
		err = c.test(d, b, plan.Boards[0].Role, opt)
	}
	if cerr := b.Close(); cerr != nil {
		return status{unsure, errors.Join(cerr, err)}
	}
	return err
}

// fromProject takes the board, the rig and, for a board of one's own, the settings that give it its outputs from the
// project, where the command line names neither board nor rig.
func (c *contractCmd) fromProject(d *console) error {
	p, err := d.project()
	if p == nil || err != nil || c.Board != "" || c.Rig != "" || len(p.Boards) == 0 && p.Rig == "" {
		return err
	}
	role, err := c.roleIn(p)
	if err != nil {
		return err
	}
	x, err := plainest(p, role)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(x.Boards, func(b harness.Board) bool { return b.Role == role })
	one := *x
	one.Boards = x.Boards[i : i+1]
	var flags benchFlags
	if err := flags.adoptUnfed(d, []harness.Plan{one}); err != nil {
		return err
	}
	c.Rig, c.Role = flags.Rig, role
	for _, b := range flags.Board {
		_, c.Board, _ = strings.Cut(b, "=")
	}
	if c.Scenario == "" {
		c.Scenario = x.File
	}
	c.settings = one.Boards[0].Settings
	return nil
}

// roleIn says which board of a project is meant.
func (c *contractCmd) roleIn(p *harness.Project) (string, error) {
	if c.Role != "" {
		return c.Role, nil
	}
	var roles []string
	same := true
	for _, b := range p.Boards {
		roles = append(roles, b.Role)
		same = same && b.Address == p.Boards[0].Address
	}
	if len(roles) == 0 {
		plans, err := projectPlans(p)
		if err != nil {
			return "", err
		}
		roles = rolesOf(plans)
		same = len(roles) == 1
	}
	if !same || len(roles) == 0 {
		return "", wrongUse("--role: say which board of %s this is: %s", p.File, strings.Join(roles, ", "))
	}
	return roles[0], nil
}

// planOf gives a plan with only the board of the rig's role.
func (c *contractCmd) planOf(d *console, spec *harness.Rig) (p *harness.Plan, err error) {
	role := c.Role
	if role == "" && len(spec.Boards) == 1 {
		role = spec.Boards[0].Role
	}
	var roles []string
	for _, b := range spec.Boards {
		roles = append(roles, b.Role)
	}
	if role == "" || spec.Board(role) == nil {
		return nil, wrongUse("--role %q: say which board of %s this is: %s", c.Role, spec.File, strings.Join(roles, ", "))
	}
	if c.Scenario, err = scenarioOf(d, c.Scenario, role); err != nil {
		return nil, err
	}
	found, err := suite.Load([]string{c.Scenario}, d.err)
	if err != nil {
		return nil, err
	}
	p = &withoutNMEA(found.Plans...)[0]
	for i, b := range p.Boards {
		if b.Role == role {
			p.Boards, p.Setup.Bays = p.Boards[i:i+1], p.Setup.Bays[i:i+1]
			p.Boards[0].Lockstep, p.Log = true, harness.LogFile{} // nothing is flown
			return p, nil
		}
	}
	return nil, wrongUse("%s flies no board %s, so that nothing says which channel its outputs are; say --scenario FILE", c.Scenario, role)
}

// test tests the board of a role.
func (c *contractCmd) test(d *console, b *run.Bench, role string, opt conformance.Options) error {
	began := time.Now()
	l, err := b.Link(d.ctx, harness.Board{Role: role})
	if err != nil {
		return status{unsure, errorf("board %s: %w", c.Board, err)}
	}
	defer l.Close()
	opt.HostLatency = b.HostLatency()
	rep := conformance.Run(d.ctx, l, opt)
	if err := c.print(d, role, &rep, began); err != nil {
		return err
	}
	if d.ctx.Err() != nil && rep.Answer() != harness.Fail {
		return status{unsure, errors.New("interrupted")}
	}
	return status{code: code(rep.Verdict(c.Board, c.Seed).Answer)}.orNil()
}

func (c *contractCmd) options(d *console) (conformance.Options, error) {
	opt := conformance.Options{Timeout: c.Timeout, Limit: c.Limit, AnswerLimit: c.AnswerLimit, Seed: c.Seed, Axis: strings.Index("xyz", c.Axis[1:]) + 1, Known: setting.Builtin()}
	if c.Axis[0] == '-' {
		opt.Axis = -opt.Axis
	}
	bits := map[string]uint16{"restart": contract.CanRestart, "settings": contract.CanSettings, "commands": contract.CanCommands, "reports": conformance.Reports, "silence": conformance.Silence}
	for _, w := range c.Without {
		opt.Without |= bits[w]
	}
	var err error
	if opt.Rates, err = c.rates(); err != nil {
		return opt, err
	}
	if c.SettingsList != "" {
		if opt.Known, err = suite.Settings(c.SettingsList, d.err); err != nil {
			return opt, err
		}
	}
	if kind, _, _ := strings.Cut(c.Board, ":"); kind == "serial" {
		opt.Baud = run.Baud(c.Board)
	}
	sets := c.Set
	if kind, _, _ := strings.Cut(c.Board, ":"); len(sets) == 0 && kind == "mock" {
		sets = []string{"staging_channel=1", "drogue_channel=2", "main_channel=3"}
	} else if len(sets) == 0 {
		for _, s := range c.settings {
			sets = append(sets, s.Name+"="+strconv.FormatFloat(contract.FromMilli(contract.Milli(s.Value)), 'f', -1, 64))
		}
		c.Set = sets // the line that repeats the test names them
	}
	for _, s := range sets {
		name, value, ok := strings.Cut(s, "=")
		x, err := strconv.ParseFloat(value, 64)
		if !ok || err != nil || name == "" || len(name) > 24 || contract.FromMilli(contract.Milli(x)) != x {
			return opt, wrongUse("--set %s: write NAME=VALUE, a name of at most 24 characters and a number of whole thousandths, as in drogue_channel=2", s)
		}
		opt.Settings = append(opt.Settings, harness.Setting{Name: name, Value: x})
	}
	return opt, nil
}

// rates replaces the default rates by those of --rate.
func (c *contractCmd) rates() (contract.Rates, error) {
	r := contract.Rates{IMU: 200, Baro: 50, GNSS: 10, Battery: 10}
	parts := map[string]*float64{"imu": &r.IMU, "baro": &r.Baro, "gnss": &r.GNSS, "battery": &r.Battery}
	for _, text := range c.Rate {
		name, value, _ := strings.Cut(text, "=")
		hz, err := strconv.ParseUint(value, 10, 16)
		part := parts[name]
		if err != nil || part == nil || (name == "gnss" || name == "battery") && hz > 255 {
			return r, wrongUse("--rate %s: write PART=HZ, a part of imu, baro, gnss, battery and a whole number (gnss and battery: at most 255), as in imu=400", text)
		}
		*part = float64(hz)
	}
	if r.IMU == 0 || r.Baro > r.IMU || r.GNSS > r.IMU || r.Battery > r.IMU {
		return r, wrongUse("--rate: the IMU gives the pace, at %g Hz; no other part can be faster, and it can't be 0", r.IMU)
	}
	return r, nil
}

func (c *contractCmd) print(d *console, role string, rep *conformance.Report, began time.Time) error {
	if c.Format == "text" {
		width, color := terminalSize(d.out)
		if err := report.Boards(d.out, []harness.BoardAddress{{Role: role, Address: c.Board}}); err != nil {
			return err
		}
		return conformance.Text(d.out, rep, conformance.TextOptions{Width: width, Color: color, Brief: c.Quiet})
	}
	made := run.Maker()
	made.Boards = []string{c.Board}
	v := rep.Verdict(c.Board, c.Seed)
	v.BoardAddresses = []harness.BoardAddress{{Role: role, Address: c.Board}}
	if c.Format == "junit" { // a test case that passes has no room for what was sent and came
		var all strings.Builder
		if err := conformance.Text(&all, rep, conformance.TextOptions{}); err != nil {
			return err
		}
		v.Title += "\n\n" + all.String()
	}
	return printVerdicts(d, c.Format, []harness.Verdict{v}, report.Options{
		Began: began, Took: time.Since(began), Host: run.Hostname(), Made: made,
		Command: "drystage contract --board", Repeat: c.repeat(),
	})
}

// repeat gives the rest of a command line that repeats the test.
func (c *contractCmd) repeat() string {
	out := ""
	for _, s := range c.Set {
		out += " --set " + report.Quoted(s)
	}
	for _, r := range c.Rate {
		out += " --rate " + r
	}
	for _, w := range c.Without {
		out += " --without " + w
	}
	if c.Rig != "" {
		out += " --rig " + report.Quoted(c.Rig)
		if c.Role != "" {
			out += " --role " + report.Quoted(c.Role)
		}
		if c.Scenario != "" {
			out += " --scenario " + report.Quoted(c.Scenario)
		}
	}
	if c.AnswerLimit != 0 {
		out += " --answer-limit " + c.AnswerLimit.String()
	}
	if c.SettingsList != "" {
		out += " --settings-list " + report.Quoted(c.SettingsList)
	}
	if c.Axis != "+x" {
		out += " --axis=" + c.Axis
	}
	return out
}
