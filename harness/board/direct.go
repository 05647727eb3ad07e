package board

import (
	"context"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

// direct is the way to a board in this process without encoding frames.
type direct struct {
	board   contract.Direct // nil: the board is not in this process
	samples contract.SampleSet
	answers contract.Answers
	skipped uint8 // frames passed this way since the last one sent
	taken   bool  // answers hold what the board said and are not acted on yet
}

func directOf(l link.Link) direct {
	if g, ok := link.DeviceOf(l); ok {
		board, _ := g.(contract.Direct)
		return direct{board: board}
	}
	return direct{}
}

// directPossible says that an exchange has nothing but samples and TICK, and that no fault of the line is active.
func (c *Client) directPossible(f *sim.Frame) bool {
	return c.direct.board != nil && f.Commands == 0 && f.Twice == 0 && c.skew == 0 && c.line.shadow == nil && !c.line.active(f) &&
		(f.Has&sim.HasCircuits == 0 || c.takes(contract.CanCircuits)) && (f.Has&sim.HasMag == 0 || c.takes(contract.CanMag)) && c.session.Idle()
}

// exchangeDirect passes the messages of an instant as values and takes the board's answers; false if the board wants
// frames.
func (c *Client) exchangeDirect(ctx context.Context, f *sim.Frame) bool {
	d := &c.direct
	if ctx.Err() != nil {
		return false
	}
	d.samples.Of(f, c.now)
	d.answers.Reset()
	if !d.board.Take(&d.samples, &d.answers) {
		return false
	}
	d.taken = true
	c.session.Enc.Skip(d.samples.Frames)
	c.session.Dec.Skip(d.answers.Frames())
	d.skipped += d.samples.Frames
	return true
}

// takeAnswers acts on the answers.
func (c *Client) takeAnswers(f *sim.Frame, r *harness.Reply) error {
	d := &c.direct
	d.taken = false
	for i := range d.answers.Outputs {
		if err := c.takeOutput(&d.answers.Outputs[i], f, r); err != nil {
			return err
		}
	}
	for i := range d.answers.Reports {
		c.takeReport(&d.answers.Reports[i], f, r)
	}
	for i := range d.answers.Logs {
		c.takeLog(&d.answers.Logs[i], f, r)
	}
	return c.done(&d.answers.Done, f, r)
}

// repeats says that the answers hold no edge and no log, and that DONE is equal to the last one and allowed: then
// nothing in the board's health changes except its counts of exchanges and reports.
func (c *Client) repeats() bool {
	a := &c.direct.answers
	d, h := &a.Done, &c.health
	return len(a.Outputs) == 0 && len(a.Logs) == 0 && d.Time == c.now && d.Outputs == c.on &&
		c.badBefore+int(d.Bad) == h.BoardBad && c.lostBefore+int(d.Lost) == h.BoardLost &&
		(d.Armed != 0) == c.permission.armed && (d.Armed == 0 || c.permission.valid > c.permission.used)
}

// takeRepeated is takeAnswers for answers that repeat the last ones.
func (c *Client) takeRepeated(f *sim.Frame, r *harness.Reply) {
	d := &c.direct
	d.taken = false
	c.exchanges++
	c.last = c.now
	for i := range d.answers.Reports {
		c.takeReport(&d.answers.Reports[i], f, r)
	}
}
