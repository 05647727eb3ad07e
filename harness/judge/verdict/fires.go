package verdict

import (
	"cmp"
	"fmt"

	"drystage/harness"
)

// fires judges the first time that an output switches on. If it never did, a complete record proves it, even if the
// window can't be found; so does a record that goes on past the window. A record that ends before the window closes
// doesn't. If it did and the window can't be found, the answer is unsure. If it did inside the window, the end of the
// run doesn't matter.
func (j *judge) fires(e *harness.Expectation, f *harness.Finding) {
	w := j.window(e)
	f.Wanted = "first on " + w.String()
	intervals := j.onIntervals(e.Output)
	if len(intervals) == 0 {
		j.neverOn(e, &w, f)
		return
	}
	on := intervals[0].on
	f.Seen = "on at " + on.String()
	defer j.judgeResponse(e, &intervals[0], f)
	switch {
	case w.noFrom != "" || w.noTo != "":
		f.Reason = fmt.Sprintf("%s switched on at %s, but its window can't be found: %s", e.Output.Name, on, j.missing(cmp.Or(w.noFrom, w.noTo)))
		return
	case w.empty():
		f.Reason = fmt.Sprintf("in this flight the window closes at %s, before it opens at %s", w.to, w.from)
		return
	}
	f.Answer = guard(w.from, w.to, on.low(), on.high())
	l := limits{w.from.Seconds(), w.to.Seconds()}
	f.Margin, f.Share, f.HasMargin = l.margin(on.at.Seconds())
	f.Unit = second.sign
	f.Reason = fmt.Sprintf("%s switched on at %s, %s", e.Output.Name, on, w.where(on))
}

// where says in words where an instant is relative to a window.
func (w *window) where(i instant) string {
	switch {
	case i.low() < w.from && w.from <= i.high():
		return "too near to the opening of the window to tell"
	case i.low() <= w.to && w.to < i.high():
		return "too near to the close of the window to tell"
	case i.at < w.from:
		return span(add(w.from, -i.at)) + " before the window opens"
	case i.at > w.to:
		return span(add(i.at, -w.to)) + " after the window closes"
	}
	return span(min(add(i.at, -w.from), add(w.to, -i.at))) + " inside the window"
}

// neverOn judges an output that never switched on.
func (j *judge) neverOn(e *harness.Expectation, w *window, f *harness.Finding) {
	f.Seen = "dark to " + j.end.String()
	f.Reason = fmt.Sprintf("%s never switched on; %s", e.Output.Name, j.endWord())
	switch why := j.windowOutside(e, w); {
	case j.rec.Complete() && !w.empty() && w.noFrom == "" && w.noTo == "" && w.to > j.end:
		f.Reason = e.Output.Name + " never switched on, and it may still have come: " + why
	case j.rec.Complete():
		f.Answer = harness.Fail
	case w.noFrom != "" || w.noTo != "" || w.empty() || !j.covered(e.Output.Bay, w.to):
		f.Reason += ", so that it may have come later"
	default:
		f.Answer = harness.Fail
		f.Reason += ", after the window had closed"
	}
}
