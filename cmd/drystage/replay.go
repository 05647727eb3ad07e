package main

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/harness/logs"
	"drystage/harness/run"
	"drystage/harness/show/report"
	"drystage/sim"
)

type replayCmd struct {
	Log string `arg:"" predictor:"file" help:"A flight log, a record, or a replay scenario, whose expectations are then judged."`
	boardFlags
	Mapping  string `placeholder:"FILE" help:"What the table's columns mean."`
	Scenario string `placeholder:"FILE" help:"A scenario whose board, with its settings and outputs, the log is played to."`
	Role     string `placeholder:"ROLE" help:"Of a record or a scenario: the board; default the first."`
	Fill     string `enum:"none,hold" default:"none" help:"What the board is given while a part is silent in the log: nothing, or its last sample again. Its clock goes on."`
	Arm      string `placeholder:"T" help:"Give the command to arm at this time, such as 1 s; default as the log tells, or 100 ms when it tells of no command."`
	Out      string `placeholder:"FILE" type:"path" help:"Write a record of the replay."`
}

// Run plays the log.
func (c *replayCmd) Run(d *console) error {
	if scenario.IsYAML(c.Log) {
		b := benchCmd{Paths: []string{c.Log}, boardFlags: c.boardFlags, Repeat: 1, Format: "text"}
		b.Jobs, b.Quiet = 1, true
		return b.Run(d)
	}
	if len(c.NMEA) > 0 {
		return wrongUse("--nmea goes with a replay scenario, whose board's file tells what the input takes")
	}
	l, err := openLog(d, c.Log, c.Mapping, c.Role)
	if err != nil {
		return err
	}
	plan, err := c.plan(d, l)
	if err != nil {
		return err
	}
	fill := logs.FillNone
	if c.Fill == "hold" {
		fill = logs.FillHold
	}
	src, err := logs.NewSource(l, len(plan.Setup.Vehicle.Stages), fill, nil)
	if err != nil {
		return status{misused, err}
	}
	return c.fly(d, l, &plan, src)
}

// fly plays the log to the board, saves the record and prints it.
func (c *replayCmd) fly(d *console, l *logs.Log, plan *harness.Plan, src *logs.Source) (err error) {
	if err := c.adoptUnfed(d, []harness.Plan{*plan}); err != nil {
		return err
	}
	opt, err := c.options(d, 1)
	if err != nil {
		return err
	}
	opt.NoRig = true
	b, done, err := openBench(d, opt, withoutNMEA(*plan))
	if err != nil {
		return err
	}
	defer func() { err = done(err) }()
	var shown error
	err = b.FlyEach(d.ctx, 1, func(int) run.Flight { return run.Flight{Plan: plan, Source: src} }, func(_ int, rec *harness.Record) error {
		if len(rec.Times) == 0 {
			return status{misused, errorf("%s", rec.Cause)}
		}
		if c.Out != "" {
			if err := save(c.Out, rec); err != nil {
				return status{misused, err}
			}
		}
		shown = c.show(d, l, rec, src.Filled())
		return nil
	})
	if err != nil && d.ctx.Err() != nil {
		return status{unsure, err}
	}
	return cmp.Or(err, shown)
}

// plan makes a plan for a log: the board of a scenario, or one that has just what the log holds.
func (c *replayCmd) plan(d *console, l *logs.Log) (harness.Plan, error) {
	_, to := l.Span()
	p := harness.Plan{Name: strings.TrimSuffix(filepath.Base(c.Log), filepath.Ext(c.Log)), Title: "The log " + filepath.Base(c.Log) + " again", File: c.Log}
	p.Setup = sim.Setup{Seed: 1, Vehicle: sim.Vehicle{Name: "log", Stages: []sim.Stage{{Name: "log"}}}, Bays: []sim.Bay{{Name: "log"}}}
	p.Boards = []harness.Board{{Role: "log", Lockstep: true}}
	recorded, bay, err := c.recorded()
	if err != nil {
		return p, err
	}
	if c.Scenario == "" && recorded == nil {
		if err := c.fromProject(d); err != nil {
			return p, err
		}
	}
	if c.Scenario != "" {
		f, err := suite.One("--scenario ", c.Scenario, d.err)
		if err != nil {
			return p, err
		}
		s, problems := scenario.Load(f.FS, f.Name)
		if len(problems) > 0 {
			return p, problemsError(problems)
		}
		i, err := bayOf(&s, c.Role)
		if err != nil {
			return p, err
		}
		p.Setup.Vehicle, p.Setup.Bays, p.Boards = s.Setup.Vehicle, s.Setup.Bays[i:i+1], s.Boards[i:i+1]
	} else if recorded != nil {
		p.Setup.Vehicle, p.Setup.Bays, p.Boards = recorded.Setup.Vehicle, recorded.Setup.Bays[bay:bay+1], recorded.Boards[bay:bay+1]
	}
	p.Setup.Bays[0].Sensors = l.Sensors()
	p.Setup.Until, p.Setup.Limit = sim.Anchor{Offset: to}, to+sim.Second
	return p, c.arm(d, l)
}

// fromProject takes the scenario whose board the log is played to from the project.
func (c *replayCmd) fromProject(d *console) error {
	p, err := d.project()
	if p == nil || err != nil {
		return err
	}
	x, err := plainest(p, c.Role)
	if errors.Is(err, suite.ErrNone) {
		return nil // the project says nothing of its boards; the log alone does
	}
	if err != nil {
		return err
	}
	c.Scenario = x.File
	d.uses(p, "boards as in "+x.File)
	return nil
}

// recorded gives the plan of a record and which of its boards is played to, so that it has its settings again;
// nil for a log of another kind.
func (c *replayCmd) recorded() (*harness.Plan, int, error) {
	f, err := disk.Open(c.Log)
	if err != nil {
		return nil, 0, status{misused, err}
	}
	defer f.Close()
	if logs.Sniff(bufio.NewReader(f)) != logs.Record {
		return nil, 0, nil
	}
	rec, err := load(c.Log)
	if err != nil {
		return nil, 0, status{misused, err}
	}
	i, err := rec.Bay(c.Role)
	return &rec.Plan, i, err
}

// arm adds the command to arm that a log may not tell of.
func (c *replayCmd) arm(d *console, l *logs.Log) error {
	at := 100 * sim.Millisecond
	switch {
	case c.Arm != "":
		x, err := time.ParseDuration(strings.ReplaceAll(c.Arm, " ", ""))
		if err != nil || x < 0 {
			return wrongUse("--arm %q: wanted a time such as 1 s", c.Arm)
		}
		at = sim.Time(x)
	case len(l.Commands) > 0:
		return nil
	default:
		fmt.Fprintln(d.err, "the log tells of no command, so the board is armed at 0.100 s; say --arm T")
	}
	l.Commands = append(l.Commands, logs.Command{At: at, What: sim.CommandArm})
	l.SortCommands()
	return nil
}

// show prints the board's outputs beside those of the log.
func (c *replayCmd) show(d *console, l *logs.Log, rec *harness.Record, filled int) error {
	silent := "left silent"
	if c.Fill == "hold" {
		silent = fmt.Sprintf("filled with the last sample: %s", count(filled, "sample"))
	}
	report.Boards(d.out, []harness.BoardAddress{{Role: rec.Plan.Boards[0].Role, Address: rec.Made.Boards[0]}})
	sayf(d.out, "%s: %d samples in %s; where a part is silent, it is %s\n", c.Log, l.Samples(), rec.Times[len(rec.Times)-1], silent)
	sayf(d.out, "%-22s %-4s %12s %12s %12s\n", "output", "", "log", "board", "later by")
	for _, row := range compareEdges(l, rec) {
		sayf(d.out, "%-22s %-4s %12s %12s %12s\n", row.name, row.edge, row.log, row.board, row.by)
	}
	if !rec.Complete() {
		fmt.Fprintln(d.out, "the replay was cut short:", rec.Cause)
		return status{code: unsure}
	}
	if len(rec.Outputs) == 0 && len(rec.Plan.Boards[0].Settings) == 0 {
		return status{unsure, errorf("the board fired nothing, and was given no settings, so this says nothing of it: --scenario FILE gives it those of a scenario's board")}
	}
	return nil
}

type edgeRow struct{ name, edge, log, board, by string }

// compareEdges pairs the edges of a log with those of a board: the nth edge on with the nth edge on.
func compareEdges(l *logs.Log, rec *harness.Record) (rows []edgeRow) {
	type key struct {
		channel int
		on      bool
	}
	theirs, ours, names := map[key][]sim.Time{}, map[key][]sim.Time{}, map[int]string{}
	var channels []int
	note := func(ch int, name string) {
		if !slices.Contains(channels, ch) {
			channels = append(channels, ch)
		}
		if name != "" && names[ch] == "" {
			names[ch] = name
		}
	}
	for _, w := range rec.Plan.Setup.Bays[0].Wires {
		names[w.Channel] = w.Name
	}
	for _, o := range l.Outputs {
		theirs[key{o.Channel, o.On}] = append(theirs[key{o.Channel, o.On}], o.At)
		note(o.Channel, o.Name)
	}
	for _, o := range rec.Outputs {
		ours[key{o.Channel, o.On}] = append(ours[key{o.Channel, o.On}], o.At)
		note(o.Channel, "")
	}
	slices.Sort(channels)
	for _, ch := range channels {
		for _, on := range []bool{true, false} {
			a, b := theirs[key{ch, on}], ours[key{ch, on}]
			for i := range max(len(a), len(b)) {
				r := edgeRow{name: strings.TrimSpace(fmt.Sprintf("%d %s", ch, names[ch])), edge: map[bool]string{true: "on", false: "off"}[on], log: "-", board: "-", by: "-"}
				if i < len(a) {
					r.log = a[i].String()
				}
				if i < len(b) {
					r.board = b[i].String()
				}
				if i < len(a) && i < len(b) {
					r.by = fmt.Sprintf("%+.3f s", math.Round(1e3*(b[i]-a[i]).Seconds())/1e3)
				}
				rows = append(rows, r)
			}
		}
	}
	return rows
}
