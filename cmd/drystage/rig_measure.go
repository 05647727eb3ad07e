package main

import (
	"errors"
	"fmt"
	"time"

	"drystage/harness"
	"drystage/harness/campaign"
	"drystage/harness/rig"
)

// measure flies a scenario through the boards and gives, output by output, how long each edge took
// from the frame that brought it about to its pin: line, board and pin together.
func (c *rigCmd) measure(d *desk, spec *harness.Rig) error {
	if c.Flights < 1 || c.Flights > 10_000 {
		return wrongUse("--flights %d: from 1 to 10000", c.Flights)
	}
	b := &benchCmd{Paths: []string{c.Scenario}, Board: c.Board, Rig: spec.File, Inert: c.Inert, Timeout: 2 * time.Second, Jobs: 1}
	seats, err := seat(c.Board)
	if err != nil {
		return err
	}
	plans, err := b.load()
	if err != nil {
		return err
	}
	if b.on, err = b.mount(d, &seats, plans); err != nil {
		return err
	}
	answers := map[string]rig.Latencies{}
	for range c.Flights {
		err = errors.Join(err, campaign.Fly(d.ctx, b.flights(d, &seats, plans), 1, func(i int, rec *harness.Record) error {
			for k, w := range b.on.boards(i) {
				for _, a := range w.Answers() {
					name := rec.Plan.Boards[k].Role + "." + a.Output
					answers[name] = append(answers[name], a.Took)
				}
			}
			b.on.settle(i, rec)
			if !rec.Complete {
				return status{unsure, errors.New(rec.Cause)}
			}
			if n := len(rec.Conflicts); n > 0 {
				return status{failed, fmt.Errorf("%s on which board and pin don't agree; say drystage bench %s --rig %s", count(n, "edge"), c.Scenario, spec.File)}
			}
			return nil
		}))
		if err != nil {
			return errors.Join(err, b.on.close())
		}
	}
	troubles(d, b.on.r)
	if err := b.on.close(); err != nil {
		return status{unsure, err}
	}
	return c.answered(d, spec, answers)
}

// answered prints and keeps the answers, in the order of the rig's file.
func (c *rigCmd) answered(d *desk, spec *harness.Rig, answers map[string]rig.Latencies) error {
	m := rig.Measured{Kind: "measurement", Rig: spec.Digest, Host: hostname(), Made: time.Now().UTC().Truncate(time.Second)}
	for _, b := range spec.Boards {
		for _, o := range b.Outputs {
			name := b.Role + "." + o.Name
			lat := answers[name]
			if o.Capture.Name == "" || len(lat) == 0 {
				continue
			}
			m.Paths = append(m.Paths, rig.NewPath(name, "board", lat, 0))
			fmt.Fprintf(d.out, "%s, from the frame to %s\n%s", name, o.Capture.Name, lat)
		}
	}
	if len(m.Paths) == 0 {
		return status{unsure, fmt.Errorf("no output moved in %s; choose a scenario in which every output fires", count(c.Flights, "flight"))}
	}
	return c.keep(d, spec, &m)
}
