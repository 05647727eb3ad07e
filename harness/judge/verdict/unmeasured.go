package verdict

import (
	"fmt"

	"drystage/harness"
	"drystage/sim"
)

// minWindowRatio is the smallest ratio of a window's width to the default uncertainty of an edge for a judgement on a
// rig that was not measured: a test uncertainty ratio of 4:1, half the window to the uncertainty (ANSI/NCSL
// Z540.3-2006, 5.3 b; from memory). The default isn't measured, so a guard band is not enough.
const minWindowRatio = 8

// checkUnmeasured makes a pass unsure that depends on the time of an edge with an unmeasured path, in lockstep and in
// real time: if the window isn't much wider than the rig's default, or, with one open side, if the edge isn't further
// inside than the default. A fail stays a fail.
func (j *judge) checkUnmeasured(e *harness.Expectation, f *harness.Finding) {
	if f.Answer != harness.Pass || !f.HasMargin {
		return
	}
	var u sim.Time
	var worst *harness.Unmeasured
	for _, c := range edgesOf(e) {
		if x := j.unmeasuredPath(c); x != nil {
			u = add(u, x.Within)
			if worst == nil || x.Within > worst.Within {
				worst = x
			}
		}
	}
	if worst == nil {
		return
	}
	width, open := j.width(e)
	switch {
	case open && f.Margin >= u.Seconds(), !open && width >= minWindowRatio*u:
		return
	case open:
		f.Reason += fmt.Sprintf("; but %s: its time may be %s off, and it lies no further inside the limit; %s", worst.Why, span(u), worst.Next)
	default:
		f.Reason += fmt.Sprintf("; but %s: its time may be %s off, and what is allowed is only %s wide, less than %d times that; %s",
			worst.Why, span(u), span(width), minWindowRatio, worst.Next)
	}
	f.Answer = harness.Unsure
}

// edgesOf gives the output of each edge whose time decides an expectation.
func edgesOf(e *harness.Expectation) []harness.Channel {
	switch e.Kind {
	case harness.Fires, harness.Reaction:
		return []harness.Channel{e.Output}
	case harness.Pulse:
		return []harness.Channel{e.Output, e.Output}
	case harness.Order:
		return []harness.Channel{e.Output, e.Then}
	}
	return nil
}

// width gives the width of an expectation's window, or says that it is open at one side.
func (j *judge) width(e *harness.Expectation) (width sim.Time, open bool) {
	if e.Kind == harness.Fires {
		w := j.window(e)
		return add(w.to, -w.from), false
	}
	if !e.HasLeast || !e.HasMost {
		return 0, true
	}
	least, most := timeLimits(e)
	return add(most, -least), false
}

// unmeasuredPath gives why an output's path isn't measured; nil if it is, or if the output has no pin.
func (j *judge) unmeasuredPath(c harness.Channel) *harness.Unmeasured {
	for i := range j.rec.Unmeasured {
		if x := &j.rec.Unmeasured[i]; x.Bay == c.Bay && x.Channel == c.Channel {
			return x
		}
	}
	return nil
}
