package board

import "drystage/sim"

// armPermission is what the operator's commands permit. Only COMMAND arm permits a board to be armed. The permission
// lasts until the operator disarms the board, or until the board says that it is no longer armed. A restart does not
// end it, since a board in flight remembers that it was armed.
type armPermission struct {
	commands int  // number of arm commands
	valid    int  // the valid one of these; 0: none, or disarmed since
	used     int  // the last one that has ended
	armed    bool // by the last DONE
}

// sendCommands notes the commands of a frame that is sent.
func (a *armPermission) sendCommands(c sim.Commands) {
	if c&sim.CommandArm != 0 {
		a.commands++
		a.valid = a.commands
	}
	if c&sim.CommandDisarm != 0 {
		a.valid = 0
	}
}

// checkArmed evaluates what a DONE says of being armed. held is the permission that was valid when its TICK was sent.
// In real time a later one may be valid by now, and the board may know it.
func (c *Client) checkArmed(says bool, held int, at sim.Time) {
	a := &c.permission
	switch {
	case says && max(held, a.valid) <= a.used:
		if c.health.SelfArmed == 0 {
			c.health.SelfArmedAt = at
		}
		c.health.SelfArmed++
	case !says && a.armed:
		a.used = max(a.used, held)
	}
	a.armed = says
}
