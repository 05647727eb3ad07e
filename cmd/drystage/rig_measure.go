package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/files/suite"
	"drystage/harness/rig"
	"drystage/harness/run"
	"drystage/sim"
)

// measure asks each board for pulses of its outputs, and measures and saves the delay of the pins. Nothing is switched on before
// every load is declared, confirmed and, if the board can, measured.
func (c *rigCmd) measure(d *console, spec *harness.Rig) error {
	if c.Count < 10 || c.Count > 10_000 {
		return wrongUse("--count %d: from 10 to 10000 pulses of each output", c.Count)
	}
	scenario, err := scenarioOf(d, c.Scenario, "")
	if err != nil {
		return err
	}
	found, err := suite.Load([]string{scenario}, d.err)
	if err != nil {
		return err
	}
	plans := withoutNMEA(found.Plans...)
	flags := boardFlags{benchFlags: benchFlags{Board: c.Board, Rig: spec.File, Inert: c.Inert}, Timeout: c.Timeout}
	if err := flags.adoptUnfed(d, plans); err != nil {
		return err
	}
	opt, err := flags.options(d, 1)
	if err != nil {
		return err
	}
	b, err := run.Open(d.ctx, opt, plans)
	if err != nil {
		return benchError(err)
	}
	m := rig.Measured{Kind: "measurement", Rig: spec.Digest, Host: run.Hostname(), Made: time.Now().UTC().Truncate(time.Second)}
	var untold []string
	for i, x := range plans[0].Boards {
		err := c.pulse(d, b, x, &plans[0].Setup.Bays[i], &m)
		if errors.Is(err, rig.ErrNoTest) {
			untold = append(untold, x.Role)
			sayf(d.out, "board %s does not offer TEST, so that its outputs can't be asked for a pulse; what remains is --loopback: wire a spare drive pin to the capture pin\n", x.Role)
			continue
		}
		if err != nil {
			return errors.Join(status{unsure, err}, b.Close())
		}
	}
	printPinErrors(d, b.Rig)
	if spec.Simulated {
		fmt.Fprintln(d.out, "simulated pins move when the board's word comes in: this says nothing of a real output stage")
	}
	if err := b.Close(); err != nil {
		return status{unsure, err}
	}
	if len(m.Paths) == 0 {
		return status{unsure, errorf("nothing was measured: %s can't be asked; say drystage rig %s --loopback", strings.Join(untold, " and "), spec.File)}
	}
	return c.keep(d, spec, &m)
}

// pulse measures one board, supplied and unarmed.
func (c *rigCmd) pulse(d *console, b *run.Bench, x harness.Board, bay *sim.Bay, m *rig.Measured) error {
	if err := b.Supply(d.ctx, bay); err != nil {
		return err
	}
	l, err := b.Link(d.ctx, x)
	if err != nil {
		return errorf("board %s: %w", x.Role, err)
	}
	defer l.Close()
	pulsed, err := b.Rig.Measure(d.ctx, l, rig.Measurement{Bay: bay, Count: c.Count, Timeout: c.Timeout})
	if err != nil {
		return errors.Join(err, b.Rig.Set(harness.DrivePower, x.Role, false))
	}
	for i := range pulsed {
		p := &pulsed[i]
		path := p.Path(x.Role)
		m.Paths = append(m.Paths, path)
		sayf(d.out, "%s, from the board's stamp to its pin\n%sfrom TEST to its pin\n%s", path.Output, p.Stamp, p.Command)
		if p.Lost > 0 {
			sayf(d.out, "%d of %d edges were not seen; is the wire firm, and does an open arming loop keep the output stage dark?\n", p.Lost, 2*c.Count)
		}
		sayf(d.out, "expanded uncertainty (k = 2): clocks ±%s, with the pin's edges ±%s\n", p.Clock.Round(time.Microsecond), path.Within.Round(time.Microsecond))
	}
	return b.Rig.Set(harness.DrivePower, x.Role, false)
}
