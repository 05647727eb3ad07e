package board

import (
	"context"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

// direct is the way to a board in this process that needs no bytes.
type direct struct {
	board   contract.Direct // nil: there is none
	moment  contract.SampleSet
	answers contract.Answers
	skipped uint8 // frames that went this way since the last that was sent
	routine bool  // the last answers went this way and changed nothing in the board's health but its counts of round trips and reports
}

func directOf(l link.Link) direct {
	if g, ok := link.DeviceOf(l); ok {
		board, _ := g.(contract.Direct)
		return direct{board: board}
	}
	return direct{}
}

// plain says that an exchange holds nothing but samples and TICK over a sound line.
func (c *Client) plain(f *sim.Frame) bool {
	return c.direct.board != nil && f.Commands == 0 && f.Twice == 0 && c.skew == 0 && c.wire.shadow == nil && !c.wire.holds(f) &&
		c.session.Idle()
}

// straight gives the board the messages of an instant as they are; taken is false where it wants a line.
func (c *Client) straight(ctx context.Context, f *sim.Frame, r *harness.Reply) (taken bool, err error) {
	d := &c.direct
	if err := ctx.Err(); err != nil {
		return false, err
	}
	d.moment.Of(f, c.now)
	d.answers.Reset()
	if !d.board.Take(&d.moment, &d.answers) {
		return false, nil
	}
	c.session.Enc.Skip(d.moment.Frames())
	c.session.Dec.Skip(d.answers.Frames())
	d.skipped += d.moment.Frames()
	if c.repeats(&d.answers) {
		d.routine = true
		c.trips++
		c.last = c.now
		for i := range d.answers.Reports {
			c.reported(&d.answers.Reports[i], f, r)
		}
		return true, nil
	}
	for i := range d.answers.Outputs {
		if err := c.switched(&d.answers.Outputs[i], f, r); err != nil {
			return true, err
		}
	}
	for i := range d.answers.Reports {
		c.reported(&d.answers.Reports[i], f, r)
	}
	for i := range d.answers.Logs {
		c.logged(&d.answers.Logs[i], f, r)
	}
	return true, c.done(&d.answers.Done, f, r)
}

// repeats says that answers hold no edge and no text, and that DONE says what the last one said and may say.
func (c *Client) repeats(a *contract.Answers) bool {
	d, h := &a.Done, &c.health
	return len(a.Outputs) == 0 && len(a.Logs) == 0 && d.Time == c.now && d.Outputs == c.on &&
		c.bad0+int(d.Bad) == h.BoardBad && c.lost0+int(d.Lost) == h.BoardLost &&
		(d.Armed != 0) == c.consent.armed && (d.Armed == 0 || c.consent.holds > c.consent.spent)
}
