package main

import (
	"bufio"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/harness/files/record"
	"drystage/harness/run"
	"drystage/harness/run/campaign"
)

// resumeFlags let a command that was interrupted go on.
type resumeFlags struct {
	Resume string `placeholder:"FILE" type:"path" help:"Keep in this file what came of each flight, and fly none again that it has: the same command goes on where it was interrupted. A changed scenario, seed or version is refused."`

	checkpoint *campaign.Checkpoint // nil: none
}

// begin opens the file for plans on the boards of options.
func (c *resumeFlags) begin(d *console, queue string, plans []harness.Plan, opt run.Options) (err error) {
	switch {
	case c.Resume == "":
		return nil
	case queue != "":
		return wrongUse("--resume with --queue: results lie at the queue for a week, and the same command uses them; leave it out")
	}
	if opt.RealTime || opt.Rig != "" || len(opt.NMEA) > 0 {
		return wrongUse("--resume is for the built-in board without --real-time, --rig and --nmea: other flights are not the same when they are flown again")
	}
	if err := run.BuiltInOnly(opt.Boards); err != nil {
		return wrongUse("--resume: %s, and another one may have changed since", err.Error())
	}
	for i := range plans {
		if plans[i].Log.File != "" {
			return wrongUse("--resume: %s plays a flight log, which takes no time", plans[i].File)
		}
	}
	if c.checkpoint, err = campaign.OpenCheckpoint(c.Resume, campaign.IdentityOf(plans, &opt)); err != nil {
		return status{misused, errorf("--resume: %w", err)}
	}
	if n := c.checkpoint.Known(); n > 0 {
		sayf(d.err, "%s: %s known\n", c.Resume, count(n, "flight"))
	}
	return nil
}

// plain are the options that results hang on.
func (c *boardFlags) plain() run.Options {
	return run.Options{Boards: c.Board, NMEA: c.NMEA, Rig: c.Rig, Timeout: c.Timeout, AnswerLimit: c.AnswerLimit, RealTime: c.RealTime, LateLimit: c.LateLimit}
}

// end closes the file.
func (c *resumeFlags) end() { _ = c.checkpoint.Close() }

// has says that a record was kept of the flight of a plan, or of a later one of the same sweep.
func has(name string, p *harness.Plan) bool {
	f, err := disk.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	rec, err := record.Read(bufio.NewReader(f))
	return err == nil && rec.Plan.Digest == p.Digest && rec.Plan.Drawn.Seed == p.Drawn.Seed && rec.Plan.Drawn.Points == p.Drawn.Points && rec.Plan.Drawn.Flight >= p.Drawn.Flight
}
