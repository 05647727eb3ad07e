package board

import (
	"slices"

	"drystage/harness/board/link"
)

// Fork gives a second client in the same state, at another link: from one flight, many can go on in
// different ways, as when a test spoils each differently. Call it between two exchanges. The two share
// nothing that changes.
func (c *Client) Fork(l link.Link) *Client {
	f := *c
	f.link, f.session = l, c.session.Fork(l)
	f.session.Sending = f.sending
	f.direct = directOf(l)
	f.direct.skipped = c.direct.skipped
	f.wire.held, f.wire.work = slices.Clone(c.wire.held), nil
	if c.wire.shadow != nil {
		shadow := *c.wire.shadow
		f.wire.shadow = &shadow
	}
	return &f
}
