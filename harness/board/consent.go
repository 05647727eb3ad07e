package board

import "drystage/sim"

// consent is what the operator's commands allow a board to say of being armed. A board is armed by COMMAND arm and by
// nothing else: until the operator disarms it, or until it has said that it no longer is. A restart alone takes nothing
// back, since a board that flies keeps in its memory that it was armed.
type consent struct {
	given int  // how often it was told to arm
	holds int  // which of these holds; 0: none, or disarmed since
	spent int  // the last of these that has been used up
	armed bool // as its last DONE said
}

// told takes in the commands of a frame that is sent.
func (a *consent) told(c sim.Commands) {
	if c&sim.CommandArm != 0 {
		a.given++
		a.holds = a.given
	}
	if c&sim.CommandDisarm != 0 {
		a.holds = 0
	}
}

// arming takes in what a DONE says; held is the consent that held when its TICK was sent, and at the time of DONE. In
// real time another one may have come since, which the board may have heard.
func (c *Client) arming(says bool, held int, at sim.Time) {
	a := &c.consent
	switch {
	case says && max(held, a.holds) <= a.spent:
		if c.health.SelfArmed == 0 {
			c.health.SelfArmedAt = at
		}
		c.health.SelfArmed++
	case !says && a.armed:
		a.spent = max(a.spent, held)
	}
	a.armed = says
}
