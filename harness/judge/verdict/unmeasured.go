package verdict

import (
	"fmt"

	"drystage/harness"
	"drystage/sim"
)

// minWindowRatio is how many times the default uncertainty of an edge a window must be wide to be judged on a
// rig that was not measured: a test uncertainty ratio of 4:1, half the window to the uncertainty
// (ANSI/NCSL Z540.3-2006, 5.3 b; from memory). Nobody has seen that default, so a guard band is not
// enough.
const minWindowRatio = 8

// checkUnmeasured takes back a pass that hangs on the time of an edge whose path was not measured, in lockstep as
// well as in real time: where the window is not far wider than the rig's default, or, open at one side,
// where the edge does not lie further inside than that. A fail stays one.
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
	case harness.Fires:
		return []harness.Channel{e.Output}
	case harness.Pulse:
		return []harness.Channel{e.Output, e.Output}
	case harness.Order:
		return []harness.Channel{e.Output, e.Then}
	}
	return nil
}

// width gives how wide the window of an expectation is, or that it is open at one side.
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

// unmeasuredPath gives what is not known of an output's path; nil when it is known, or no pin sees it.
func (j *judge) unmeasuredPath(c harness.Channel) *harness.Unmeasured {
	for i := range j.rec.Unmeasured {
		if x := &j.rec.Unmeasured[i]; x.Bay == c.Bay && x.Channel == c.Channel {
			return x
		}
	}
	return nil
}
