package board

import (
	"slices"

	"drystage/harness/board/link"
)

// Fork gives a second client in the same state at another link. So one flight can continue in different ways, for
// example with different faults in a test. Call it between two exchanges. The two share no variables.
func (c *Client) Fork(l link.Link) *Client {
	f := *c
	f.link, f.session = l, c.session.Fork(l)
	f.session.Sending = f.sending
	f.direct = directOf(l)
	f.direct.skipped = c.direct.skipped
	f.line.held, f.line.scratch = slices.Clone(c.line.held), nil
	if c.line.shadow != nil {
		shadow := *c.line.shadow
		f.line.shadow = &shadow
	}
	return &f
}
