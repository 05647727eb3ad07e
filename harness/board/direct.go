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
	moment  contract.Moment
	answers contract.Answers
	skipped uint8 // frames that went this way since the last that was sent
}

func directOf(l link.Link) direct {
	if g, ok := link.GuestOf(l); ok {
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
