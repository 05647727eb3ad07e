package main

import (
	"bufio"
	"io"
	"os"
	"path/filepath"
	"strings"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/harness/logs"
	"drystage/harness/logs/examine"
	"drystage/sim"
	"drystage/sim/quantity"
)

type examineCmd struct {
	Log            string `arg:"" predictor:"file" help:"A flight log: a table of text, NMEA 0183 sentences, or a record."`
	Mapping        string `placeholder:"FILE" help:"What the table's columns mean."`
	ProposeMapping string `placeholder:"FILE" help:"Write what the columns seem to mean, for you to check, and leave."`
	Role           string `placeholder:"ROLE" help:"Of a record or a scenario: the board; default the first."`
	Vehicle        string `placeholder:"FILE" help:"A vehicle, or the scenario that was flown: hold the log against its simulated flight."`
	Flight         int    `default:"1" help:"Of several in the log, which one."`
	Temperature    string `placeholder:"T" help:"Of the air at the pad, such as 12 degC; default standard, or the scenario's."`
	WriteScenario  string `placeholder:"DIR" help:"Write the log as scenarios: played again, and as a simulated flight with its faults. Needs --vehicle SCENARIO."`
	HTML           string `name:"html" placeholder:"FILE" help:"Write the report as a page with pictures."`
	Format         string `enum:"text,json" default:"text" help:"text or json."`
}

// Run examines a log and prints the result.
func (c *examineCmd) Run(d *console) error {
	if c.ProposeMapping != "" {
		return c.propose(d)
	}
	l, err := openLog(d, c.Log, c.Mapping, c.Role)
	if err != nil {
		return err
	}
	opt, plan, err := c.options(d)
	if err != nil {
		return err
	}
	p := startProgress(d.err, 0, "examining", "", false)
	r, err := examine.Examine(l, opt)
	p.done()
	if err != nil {
		return status{misused, errorf("%s: %w", c.Log, err)}
	}
	if err := c.print(d, r); err != nil {
		return err
	}
	if c.WriteScenario != "" {
		if err := c.write(d, r, plan); err != nil {
			return err
		}
	}
	if c.HTML == "" {
		return nil
	}
	if err := writeWhole(c.HTML, func(w io.Writer) error {
		return writePrintable(w, func(w io.Writer) error { return examine.Page(w, r) })
	}); err != nil {
		return status{misused, err}
	}
	sayf(c.aside(d), "report: %s\n", c.HTML)
	return nil
}

// print writes the result in the format asked for.
func (c *examineCmd) print(d *console, r *examine.Result) error {
	if c.Format == "json" {
		return examine.JSON(d.out, r)
	}
	width, _ := terminalSize(d.out)
	return examine.Text(d.out, r, width)
}

// aside is where it is said which files were written: not into JSON.
func (c *examineCmd) aside(d *console) io.Writer {
	if c.Format == "json" {
		return d.err
	}
	return d.out
}

func (c *examineCmd) propose(d *console) error {
	f, err := disk.Open(c.Log)
	if err != nil {
		return status{misused, err}
	}
	defer f.Close()
	if logs.Sniff(bufio.NewReader(f)) != logs.Table {
		return wrongUse("%s tells by itself what it holds; it needs no mapping", c.Log)
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return status{misused, err}
	}
	p, err := logs.Propose(f, harness.Printable(c.Log))
	if err != nil {
		return status{misused, err}
	}
	if err := writeWhole(c.ProposeMapping, func(w io.Writer) error { _, err := w.Write(p.YAML()); return err }); err != nil {
		return status{misused, err}
	}
	sayf(d.out, "%s: %s\n", c.ProposeMapping, count(len(p.Mapping.Columns), "column"))
	for _, x := range p.Doubts {
		sayf(d.out, "CHECK: %s\n", x)
	}
	for _, x := range p.Left {
		sayf(d.out, "left out: %s: %s\n", x.Column, x.Why)
	}
	return nil
}

// options reads the vehicle or scenario that the log is compared with. The plan is nil without a
// scenario.
func (c *examineCmd) options(d *console) (opt examine.Options, plan *harness.Plan, err error) {
	opt.Flight = c.Flight
	if c.Temperature != "" {
		if opt.Temperature, err = quantity.Parse(c.Temperature, quantity.Temperature); err != nil {
			return opt, nil, status{misused, errorf("--temperature: %w", err)}
		}
	}
	if c.Vehicle == "" {
		if c.WriteScenario != "" {
			return opt, nil, wrongUse("--write-scenario needs --vehicle SCENARIO: the scenario that the flight was meant as, whose boards and expectations are taken")
		}
		return opt, nil, nil
	}
	f, err := suite.One("--vehicle ", c.Vehicle, d.err)
	if err != nil {
		return opt, nil, err
	}
	if !scenario.IsYAML(f.Name) {
		return opt, nil, wrongUse("--vehicle %s: found a file that is no .yaml, as a log or a motor is, wanted the vehicle or the scenario that was flown, whose first key is `drystage:`", c.Vehicle)
	}
	kind, problems := scenario.Kind(f.FS, f.Name)
	if len(problems) > 0 {
		return opt, nil, problemsError(problems)
	}
	if kind != "vehicle" && kind != "scenario" {
		return opt, nil, wrongUse("--vehicle %s: found %s, wanted a vehicle or a scenario", c.Vehicle, map[bool]string{true: "a file that is none of drystage's", false: "a file of a " + kind}[kind == scenario.Foreign])
	}
	if kind == "vehicle" {
		v, crossings, problems := scenario.LoadVehicle(f.FS, f.Name)
		if len(problems) > 0 {
			return opt, nil, problemsError(problems)
		}
		opt.Setup = &sim.Setup{Seed: 1, Vehicle: v, Crossings: crossings, Launch: 5 * sim.Second, Limit: 600 * sim.Second}
		return opt, nil, nil
	}
	p, problems := scenario.Load(f.FS, f.Name)
	if len(problems) > 0 {
		return opt, nil, problemsError(problems)
	}
	i, err := bayOf(&p, c.Role)
	if err != nil {
		return opt, nil, err
	}
	opt.Setup, opt.Stage = &p.Setup, p.Setup.Bays[i].Stage
	if opt.Temperature == 0 {
		opt.Temperature = p.Setup.Vehicle.Site.Temperature
	}
	return opt, &p, nil
}

// bayOf finds a board of a plan; no role means the first.
func bayOf(p *harness.Plan, role string) (int, error) {
	var roles []string
	for i, b := range p.Boards {
		if b.Role == role || role == "" {
			return i, nil
		}
		roles = append(roles, b.Role)
	}
	return 0, wrongUse("%s has no board %q, but %s", p.File, role, strings.Join(roles, " and "))
}

// write writes the log's scenarios into a folder.
func (c *examineCmd) write(d *console, r *examine.Result, p *harness.Plan) error {
	if p == nil {
		return wrongUse("--write-scenario needs a scenario as --vehicle, since a vehicle tells of no boards")
	}
	i, err := bayOf(p, c.Role)
	if err != nil {
		return err
	}
	u, err := useOf(p, i)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(c.WriteScenario, 0o755); err != nil {
		return status{misused, err}
	}
	w := examine.Written{Setup: &p.Setup, Bay: i, Setting: u.settings}
	for _, x := range []struct {
		to   *string
		name string
	}{{&w.Like, p.File}, {&w.Board, u.board}, {&w.LogFile, c.Log}, {&w.Mapping, c.Mapping}} {
		if *x.to, err = relative(c.WriteScenario, x.name); err != nil {
			return err
		}
	}
	base := strings.TrimSuffix(filepath.Base(c.Log), filepath.Ext(c.Log))
	const tolerance = 0.25 // s; common practice, no source
	faults, refused := r.FaultScenario(w)
	for _, x := range []struct{ name, text string }{
		{base + "-replay.yaml", r.ReplayScenario(w, tolerance)}, {base + "-faults.yaml", faults},
	} {
		name := filepath.Join(c.WriteScenario, x.name)
		if x.text == "" {
			why := "the log shows nothing that a fault could play"
			if len(refused) > 0 {
				why = "no fault would show again what the log shows"
			}
			sayf(c.aside(d), "%s: not written, since %s\n", name, why)
			continue
		}
		if err := writeWhole(name, func(w io.Writer) error { _, err := io.WriteString(w, x.text); return err }); err != nil {
			return status{misused, err}
		}
		if ps := scenario.Lint(scenario.Disk{}, filepath.ToSlash(name)); len(ps) > 0 {
			return problemsError(ps)
		}
		sayf(c.aside(d), "%s: written, no finding\n", name)
	}
	for _, x := range refused {
		sayf(c.aside(d), "%s\n", x)
	}
	return nil
}

// relative gives a file's path as seen from a folder.
func relative(dir, name string) (string, error) {
	if name == "" {
		return "", nil
	}
	if _, err := os.Stat(name); err != nil {
		return "", wrongUse("%s is not on the disk; a written scenario refers to it, so copy it there first", name)
	}
	d, err := filepath.Abs(dir)
	if err != nil {
		return "", status{misused, err}
	}
	f, err := filepath.Abs(name)
	if err != nil {
		return "", status{misused, err}
	}
	rel, err := filepath.Rel(d, f)
	if err != nil {
		return "", status{misused, err}
	}
	return filepath.ToSlash(rel), nil
}
