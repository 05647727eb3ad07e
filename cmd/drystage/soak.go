package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"drystage/harness"
	"drystage/harness/run"
	"drystage/harness/show/report"
)

// errStopEarly ends a soak at its first verdict that is not a pass.
var errStopEarly = errors.New("enough")

// soak flies the suite repeatedly, to find intermittent faults: a loose wire, a race in a firmware. Every round is the
// same, so differences come from the board or the line.
func (c *benchCmd) soak(d *console) error {
	plans := c.suite.Plans
	if c.Format != "text" || c.Coverage {
		return wrongUse("--repeat prints a table for people; leave out --format and --coverage")
	}
	if err := makeFolder(c.Out, plans); err != nil {
		return err
	}
	if err := report.Boards(d.out, c.bench.Addresses(plans)); err != nil {
		return err
	}
	fmt.Fprintln(d.out)
	tally := run.Tally{Wanted: c.Repeat * len(plans)}
	for i := range plans {
		tally.Name(plans[i].Name)
	}
	err := c.rounds(d, &tally)
	printTally(d.out, &tally)
	if werr := report.Foreign(d.out, c.suite.Foreign, "flown"); werr != nil {
		return werr
	}
	switch {
	case errors.Is(err, context.Canceled):
		return status{code(tally.Worst()), errorf("interrupted in round %d of %d", tally.Rounds, c.Repeat)}
	case err != nil && !errors.Is(err, errStopEarly):
		return err
	}
	return status{code: code(tally.Worst())}.orNil()
}

func (c *benchCmd) rounds(d *console, tally *run.Tally) error {
	bar := newProgress(d.err, tally.Wanted, c.Quiet)
	defer bar.done()
	for round := 1; round <= c.Repeat; round++ {
		err := flyPlans(d.ctx, c.bench, c.suite.Plans, func(_ int, rec *harness.Record, v harness.Verdict) error {
			bar.step(v)
			fresh := tally.Add(round, &v)
			if len(fresh) > 0 && c.Out != "" {
				name := filepath.Join(c.Out, fmt.Sprintf("%s.round%d.record", rec.Plan.Name, round))
				if err := save(name, rec); err != nil {
					return err
				}
				for _, k := range fresh {
					k.Record = name
				}
			}
			if c.UntilFail && v.Answer != harness.Pass {
				return errStopEarly
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// printTally writes how often each scenario was flown with which answer, and the first finding of each kind
// that is not a pass.
func printTally(w io.Writer, t *run.Tally) {
	name := len("scenario")
	for _, s := range t.Scenarios {
		name = max(name, len(s.Name))
	}
	all := 0
	sayf(w, "%-*s  %6s  %6s  %6s  %6s\n", name, "scenario", "flown", "passed", "failed", "unsure")
	for _, s := range t.Scenarios {
		n := s.All()
		all += n
		sayf(w, "%-*s  %6d  %6d  %6d  %6d\n", name, s.Name, n, s.Pass, s.Fail, s.Unsure)
	}
	for _, k := range slices.SortedStableFunc(slices.Values(t.Kinds), func(a, b run.Kind) int { return b.Count - a.Count }) {
		sayf(w, "\n%s, %s, first in round %d: %s: %s\n  %s\n", k.Answer, count(k.Count, "time"), k.Round, k.Scenario, k.Text, k.Reason)
		if k.Record != "" {
			sayf(w, "  kept: drystage show '%s'\n", k.Record)
		}
	}
	trouble := "no trouble of any kind"
	if len(t.Kinds) > 0 {
		trouble = count(len(t.Kinds), "kind") + " of trouble"
	}
	if n := t.NotFlown(); n > 0 {
		sayf(w, "\n%d of %s in %s: %s; %d not flown\n", all, count(t.Wanted, "flight"), count(t.Rounds, "round"), trouble, n)
		return
	}
	sayf(w, "\n%s in %s: %s\n", count(all, "flight"), count(t.Rounds, "round"), trouble)
}
