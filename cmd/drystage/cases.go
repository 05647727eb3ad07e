package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/run"
	"drystage/harness/run/campaign"
)

// caseFlyer flies one plan with chosen values, here or by the workers of a queue.
type caseFlyer struct {
	d      *console
	bench  *run.Bench // nil: workers fly
	queue  *queueFlags
	boards *boardFlags
	plan   *harness.Plan
	known  *campaign.Checkpoint
}

// fly flies cases, several at a time, and gives their verdicts in order.
func (c *caseFlyer) fly(cases []campaign.Case, done func(i int, v harness.Verdict) error) error {
	if c.bench == nil {
		return c.send(cases, done)
	}
	draw := func(i int) run.Flight {
		out := cases[i].Plan(c.plan)
		return run.Flight{Plan: &out}
	}
	what := func(i int) string { return fmt.Sprintf("%s case %+v", c.plan.File, cases[i]) }
	return c.known.Judged(c.d.ctx, c.bench, len(cases), what, draw, func(i int, _ *harness.Record, f *campaign.Flown) error { return done(i, f.Verdict) })
}

// send has the workers of the queue fly cases.
func (c *caseFlyer) send(cases []campaign.Case, done func(i int, v harness.Verdict) error) error {
	b, err := c.queue.bundle([]harness.Plan{*c.plan}, c.boards)
	if err != nil {
		return err
	}
	b.Cases, b.Flights, b.Batch = cases, len(cases), min(8, 1+len(cases)/64)
	return c.queue.send(c.d, b, func(_ *campaign.Sender, i int, f *campaign.Flown) error { return done(i, f.Verdict) })
}

// expectation gives the number of the expectation that an argument names, from 1: by its number or a part of its text.
func expectation(flag, arg string, p *harness.Plan) (int, error) {
	if n, err := strconv.Atoi(arg); err == nil && n >= 1 && n <= len(p.Expect) {
		return n, nil
	}
	var list []string
	found, n := 0, 0
	for i, e := range p.Expect {
		list = append(list, fmt.Sprintf("%3d  %s", i+1, e.Text))
		if strings.Contains(e.Text, arg) {
			found, n = i+1, n+1
		}
	}
	if n != 1 {
		return 0, wrongUse("%s %q: wanted a number or a text that is in one expectation, and it is in %d:\n%w", flag, arg, n, errors.New(strings.Join(list, "\n")))
	}
	return found, nil
}
