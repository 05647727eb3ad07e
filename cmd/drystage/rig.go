package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/files/suite"
	"drystage/harness/rig"
	"drystage/harness/run"
)

type rigCmd struct {
	File     string        `arg:"" optional:"" predictor:"file" help:"Rig file; without one, the project's, or else list this computer's serial ports and pins."`
	SVG      string        `placeholder:"FILE" type:"path" help:"Write the wiring as a picture."`
	Loopback bool          `help:"Toggle each loopback drive, measure latency and jitter of the pin that sees it, and keep the result beside the rig's file."`
	Measure  bool          `help:"Ask each board for pulses of its outputs (the contract's TEST), measure latency and jitter of the pins that see them, and keep the result beside the rig's file. The outputs get current: dummy loads only."`
	Scenario string        `placeholder:"FILE" help:"Of --measure: its boards say which channel each output is. One of the project, or else scenarios/nominal.yaml, if not given."`
	Board    []string      `placeholder:"[ROLE=]ADDR" sep:"none" help:"Of --measure: where the boards are, as for bench."`
	Count    int           `default:"500" help:"Edges of each --loopback, or pulses of each output in --measure."`
	Timeout  time.Duration `default:"2s" help:"Of --measure: how long a board may take to answer."`
	Inert    bool          `help:"I confirm: no motor, igniter or charge is connected to any board, only dummy loads."`
}

// Help gives the text below the first line of the command's help.
func (c *rigCmd) Help() string {
	return "A rig of your own starts as a copy of scenarios/rigs/simulated.yaml.\n\n" + caution
}

// Run checks a rig, shows its wiring, and measures it.
func (c *rigCmd) Run(d *console) error {
	if err := c.fromProject(d); err != nil {
		return err
	}
	if c.File == "" {
		return c.list(d)
	}
	spec, err := suite.Rig(c.File, d.err)
	if err != nil {
		return err
	}
	if c.SVG != "" {
		if err := writeSVG(c.SVG, &spec); err != nil {
			return err
		}
		fmt.Fprintln(d.out, "wiring drawn into", c.SVG)
	}
	switch {
	case c.Loopback && c.Measure:
		return wrongUse("--loopback or --measure, one at a time: a loopback is wired instead of a board")
	case c.Loopback:
		return c.loopback(d, &spec)
	case c.Measure:
		return c.measure(d, &spec)
	}
	return c.show(d, &spec)
}

// fromProject takes the rig from the project. To show it reaches nothing; to switch its pins it has to be trusted.
func (c *rigCmd) fromProject(d *console) error {
	p, err := d.project()
	if p == nil || err != nil || c.File != "" || p.Rig == "" {
		return err
	}
	c.File = p.Rig
	d.uses(p, "rig "+p.Rig)
	if c.Loopback || c.Measure {
		return trusted(p, []door{{p.RigPlace, "uses the rig " + p.Rig, "rig " + p.Rig}})
	}
	return nil
}

// list prints the ports and pins of this computer.
func (c *rigCmd) list(d *console) error {
	if c.Loopback || c.Measure || c.SVG != "" {
		return wrongUse("--loopback, --measure and --svg want a rig file; try scenarios/rigs/simulated.yaml")
	}
	ports, err := link.Ports()
	if err != nil {
		return status{unsure, err}
	}
	if err := printPorts(d.out, ports); err != nil {
		return err
	}
	names, err := rig.PinNames()
	switch {
	case err != nil:
		return status{unsure, err}
	case len(names) == 0:
		fmt.Fprintln(d.out, "\nno pins found; a rig with `rig: simulated` works without")
	default:
		sayf(d.out, "\n%s: %s\n", count(len(names), "pin"), strings.Join(names, " "))
	}
	return nil
}

func writeSVG(name string, spec *harness.Rig) error {
	if err := writeWhole(name, func(w io.Writer) error { return rig.WriteSVG(w, spec) }); err != nil {
		return status{misused, err}
	}
	return nil
}

func (c *rigCmd) show(d *console, spec *harness.Rig) error {
	sayf(d.out, "rig %s (%s)\n\n", spec.Name, spec.File)
	for _, line := range rig.Cautions {
		fmt.Fprintln(d.out, "CAUTION:", line)
	}
	fmt.Fprintln(d.out)
	if err := errors.Join(rig.WriteTable(d.out, spec), newline(d.out), rig.WriteDrawing(d.out, spec), newline(d.out)); err != nil {
		return err
	}
	measured, err := rig.LoadMeasured(spec.File)
	if err != nil {
		return status{unsure, err}
	}
	for _, b := range spec.Boards {
		for _, o := range b.Outputs {
			if o.Capture.Name != "" {
				fmt.Fprintln(d.out, timingText(measured, spec, b.Role, o.Name))
			}
		}
	}
	findings, err := checkRig(spec)
	if err != nil {
		return status{unsure, err}
	}
	for _, f := range findings {
		fmt.Fprintln(d.out, "finding:", f)
	}
	if len(findings) > 0 {
		return status{code: failed}
	}
	fmt.Fprintln(d.out, "no finding: the rig's file fits this computer")
	return nil
}

func newline(w io.Writer) error {
	_, err := fmt.Fprintln(w)
	return err
}

func timingText(m *rig.Measured, spec *harness.Rig, role, output string) string {
	k := m.Timing(spec, role, output, run.Hostname(), time.Now())
	text := fmt.Sprintf("edges of %s.%s count ±%s", role, output, time.Duration(k.Within).Round(time.Microsecond))
	if k.Why != "" {
		text += ": " + k.Why + "; say drystage rig " + spec.File + " --measure, or --loopback"
	}
	return text
}

// checkRig compares a rig with this computer, and lists undeclared loads.
func checkRig(spec *harness.Rig) (findings []string, err error) {
	for _, b := range spec.Boards {
		for _, o := range b.Outputs {
			if o.Load.Kind == "" {
				findings = append(findings, fmt.Sprintf("%s: output %s.%s has no dummy load declared; no run begins with it", o.Place, b.Role, o.Name))
			}
		}
		if kind, port, _ := strings.Cut(b.Address, ":"); kind == "serial" {
			if why := portMissing(port); why != "" {
				findings = append(findings, fmt.Sprintf("%s: board %s: %s", b.Place, b.Role, why))
			}
		}
	}
	if spec.Simulated {
		return findings, nil
	}
	names, err := rig.PinNames()
	if err != nil {
		return findings, err
	}
	if len(names) == 0 {
		return append(findings, "this computer shows no pins; write `rig: simulated` to try the rig without"), nil
	}
	for _, w := range rig.Wires(spec) {
		if w.Pin != "-" && !slices.Contains(names, w.Pin) {
			findings = append(findings, fmt.Sprintf("pin %s (%s of %s) is none of this computer's: %s", w.Pin, w.End, w.Board, strings.Join(names, " ")))
		}
	}
	return findings, nil
}

func portMissing(address string) string {
	name, _, _ := strings.Cut(address, "?")
	ports, err := link.Ports()
	if err != nil {
		return err.Error()
	}
	for _, p := range ports {
		short := fmt.Sprintf("usb=%04x:%04x", p.ID.Vendor, p.ID.Product)
		if p.Name == name || p.USB && (strings.EqualFold(name, short) || strings.EqualFold(name, "usb="+p.ID.String())) {
			return ""
		}
	}
	if _, err := os.Stat(name); err == nil {
		return "" // a link, or a pseudo-terminal of an emulator
	}
	return "serial:" + name + " is not there; `drystage ports` lists what is"
}

// guardCmd is the command of the guard process; it is not for users.
type guardCmd struct{}

// Run guards the pins until it is released.
func (guardCmd) Run(d *console) error {
	ignoreSignals()
	if err := rig.Guard(d.in, raw(d.out), raw(d.err)); err != nil {
		return status{refused, err}
	}
	return nil
}

// loopback measures every loopback drive and saves the result.
func (c *rigCmd) loopback(d *console, spec *harness.Rig) error {
	if c.Count < 10 || c.Count > 1_000_000 {
		return wrongUse("--count %d: from 10 to 1000000", c.Count)
	}
	if !spec.Simulated {
		if err := confirm(d, c.Inert); err != nil {
			return err
		}
	}
	guard, err := guardArgs()
	if err != nil {
		return err
	}
	r, err := rig.Open(d.ctx, *spec, rig.Options{Guard: guard})
	if err != nil {
		return status{unsure, err}
	}
	defer r.Close()
	m := rig.Measured{Kind: "measurement", Rig: spec.Digest, Host: run.Hostname(), Made: time.Now().UTC().Truncate(time.Second)}
	for _, drive := range spec.Drives {
		if drive.Does != harness.DriveLoopback {
			continue
		}
		lat, lost, err := r.Loopback(d.ctx, drive.Label, c.Count, nil)
		if err != nil {
			return status{unsure, errorf("interrupted: %w", err)}
		}
		p := rig.NewPath(drive.Role+"."+drive.Output, "loopback", lat, lost)
		m.Paths = append(m.Paths, p)
		sayf(d.out, "%s: %s -> %s\n%s", drive.Label, drive.Name, p.Output, lat)
		if lost > 0 {
			sayf(d.out, "%d of %d edges never came; is the wire firm?\n", lost, c.Count)
		}
		sayf(d.out, "expanded uncertainty (k = 2) of an edge: ±%s\n", p.Within)
	}
	if len(m.Paths) == 0 {
		return wrongUse("%s has no drive that does `loopback BOARD.OUTPUT`; wire a spare pin to the capture pin and add one", spec.File)
	}
	printPinErrors(d, r)
	if err := r.Close(); err != nil {
		return status{unsure, err}
	}
	return c.keep(d, spec, &m)
}

func printPinErrors(d *console, r *rig.Rig) {
	if glitches, missed := r.PinErrors(); glitches+missed > 0 {
		sayf(d.out, "%s too short to count, %s found late\n", count(glitches, "level"), count(missed, "edge"))
	}
}

// keep writes the measurement beside the rig's file. Results of an earlier measurement by the other method stay.
func (c *rigCmd) keep(d *console, spec *harness.Rig, m *rig.Measured) error {
	old, err := rig.LoadMeasured(spec.File)
	if err != nil {
		return status{unsure, err}
	}
	m.Keep(old)
	if _, err := os.Stat(spec.File); err != nil {
		fmt.Fprintln(d.out, "not kept: the shipped rig has no place on this disk; copy it to a file of your own")
		return nil
	}
	if err := writeWhole(rig.MeasuredFile(spec.File), m.Write); err != nil {
		return status{unsure, errorf("the measurement can't be kept: %w", err)}
	}
	fmt.Fprintln(d.out, "kept in", rig.MeasuredFile(spec.File))
	lost := slices.MaxFunc(m.Paths, func(a, b rig.Path) int { return cmp.Compare(a.Lost, b.Lost) }).Lost
	if lost > 0 {
		return status{failed, errors.New("edges were lost; the measurement does not count")}
	}
	return nil
}
