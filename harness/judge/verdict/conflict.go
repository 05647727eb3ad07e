package verdict

import (
	"fmt"

	"drystage/harness"
	"drystage/sim"
)

// judgeConflicts fails every edge for which a board's message and the pin at its output differ: either the board or the
// wiring is wrong, and that must be found before anything is live.
func (j *judge) judgeConflicts() (fs []harness.Finding) {
	if j.flaw != "" {
		return nil
	}
	for i := range j.rec.Conflicts {
		c := &j.rec.Conflicts[i]
		fs = append(fs, harness.Finding{
			Text: j.output(c.Bay, c.Channel) + ": board and pin agree", Answer: harness.Fail,
			Reason: disagreement(c), Place: harness.Place{File: j.rec.Plan.File},
		})
	}
	return fs
}

// output names an output, by its number if it has no wire.
func (j *judge) output(bay, channel int) string {
	bays := j.rec.Plan.Setup.Bays
	if bay < 0 || bay >= len(bays) {
		return fmt.Sprintf("output %d of board %d", channel, bay)
	}
	for _, w := range bays[bay].Wires {
		if w.Channel == channel {
			return bays[bay].Name + "." + w.Name
		}
	}
	return fmt.Sprintf("%s.%d", bays[bay].Name, channel)
}

func disagreement(c *harness.Conflict) string {
	way := "off"
	if c.On {
		way = "on"
	}
	at := func(t, within sim.Time) string { return fmt.Sprintf("%s ± %s", t, span(within)) }
	switch {
	case c.HasTold && c.HasSeen:
		return fmt.Sprintf("the board says that it switched %s at %s, its pin did so at %s: %s apart, where %s can be explained",
			way, at(c.Told, c.ToldWithin), at(c.Seen, c.SeenWithin), span(size(add(c.Seen, -c.Told))), span(add(c.ToldWithin, c.SeenWithin)))
	case c.HasTold:
		return fmt.Sprintf("the board says that it switched %s at %s, and its pin never moved; look at the wire, the load and the output stage", way, at(c.Told, c.ToldWithin))
	case c.HasSeen:
		return fmt.Sprintf("its pin switched %s at %s, and the board says nothing of it; an output that fires unbidden is dangerous", way, at(c.Seen, c.SeenWithin))
	}
	return "the record does not say how they differ"
}
