package world

import "drystage/sim"

// commands are the operator's commands of a setup, each given once.
type commands struct {
	list []sim.Command
	at   []sim.Time // when each is to be given; sim.Never until its event has happened, and once given
	done []bool
	seen int // events known at the last call of resolve
}

func newCommands(s *sim.Setup) commands {
	c := commands{list: s.Commands, at: make([]sim.Time, len(s.Commands)), done: make([]bool, len(s.Commands)), seen: -1}
	for i := range c.at {
		c.at[i] = sim.Never
	}
	return c
}

// resolve sets the times of commands whose event has happened; a command before an event takes the time of the
// rehearsal.
func (c *commands) resolve(events, rehearsed []sim.Event) {
	if len(events) == c.seen {
		return
	}
	c.seen = len(events)
	for i := range c.list {
		if c.at[i] != sim.Never || c.done[i] {
			continue
		}
		from := events
		if c.list[i].At.Offset < 0 {
			from = rehearsed
		}
		if t, ok := c.list[i].At.In(from); ok {
			c.at[i] = t
		}
	}
}

// deliver puts the commands that are due into the frames of the tick. A board without power at that instant
// misses its command.
func (c *commands) deliver(t *sim.Tick) {
	for i, at := range c.at {
		if at > t.Now {
			continue
		}
		c.at[i], c.done[i] = sim.Never, true
		for bay := range t.Frames {
			if want := c.list[i].Bay; want == bay || want == -1 {
				t.Frames[bay].Commands |= c.list[i].What
				t.Frames[bay].Due = true
			}
		}
	}
}

// due says whether a command is to be given now.
func (c *commands) due(now sim.Time, what sim.Commands) bool {
	for i, at := range c.at {
		if at <= now && c.list[i].What&what != 0 {
			return true
		}
	}
	return false
}
