package verdict

import (
	"fmt"

	"drystage/harness"
)

// order judges that one output first switches on before another one first does, and by how much. If only the later one
// switches on, it fails. If only the earlier one does, or none, there is nothing to measure: unsure.
func (j *judge) order(e *harness.Expectation, f *harness.Finding) {
	l := limitsOf(e)
	f.Wanted = fmt.Sprintf("%s before %s", e.Output.Name, e.Then.Name)
	if e.HasLeast || e.HasMost {
		f.Wanted += " by " + second.within(l)
	}
	first, then := j.onIntervals(e.Output), j.onIntervals(e.Then)
	switch {
	case len(then) == 0:
		j.unmeasured(e.Then, f)
		return
	case len(first) == 0:
		j.unmeasured(e.Output, f)
		if j.covered(e.Output.Bay, then[0].on.high()) {
			f.Answer = harness.Fail
			f.Reason = fmt.Sprintf("%s switched on at %s, and %s had not", e.Then.Name, then[0].on, e.Output.Name)
		}
		return
	}
	gap := then[0].on.since(first[0].on)
	least, most := timeLimits(e)
	least, l.least = max(least, 1), max(l.least, 0) // the same instant is not before
	f.Answer = guard(least, most, gap.low(), gap.high())
	f.Margin, f.Share, f.HasMargin = l.margin(gap.at.Seconds())
	f.Unit = second.sign
	f.Seen = fmt.Sprintf("%s on at %s, %s on at %s", e.Output.Name, first[0].on, e.Then.Name, then[0].on)
	f.Reason = fmt.Sprintf("%s switched on %s", e.Then.Name, gapText(gap, e.Output.Name))
	if f.Answer == harness.Unsure {
		f.Reason += ", too near to its limit to tell"
	}
}

// gapText says how long after an output something happened.
func gapText(gap instant, name string) string {
	switch {
	case gap.at == 0:
		return "together with " + name
	case gap.at < 0:
		return instant{size(gap.at), gap.within}.String() + " before " + name
	}
	return gap.String() + " after " + name
}
