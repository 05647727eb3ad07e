package verdict

import (
	"fmt"

	"drystage/harness"
	"drystage/sim"
)

// happens judges that an event of the flight happens: at all, or within a window. Its time is the true one, without
// uncertainty. In an incomplete record the event may have come later.
func (j *judge) happens(e *harness.Expectation, f *harness.Finding) {
	w := j.window(e)
	f.Wanted = e.Event
	if e.HasFrom || e.HasTo {
		f.Wanted += " " + w.String()
	}
	t, ok := sim.Anchor{Event: e.Event}.In(j.rec.Events)
	if !ok {
		f.Seen = "not up to " + j.end.String()
		f.Reason = fmt.Sprintf("%s never happened; %s", e.Event, j.endWord())
		if j.rec.Complete() || w.noFrom == "" && w.noTo == "" && w.to < j.end {
			f.Answer = harness.Fail
		}
		return
	}
	f.Seen = "at " + t.String()
	f.Reason = fmt.Sprintf("%s happened at %s", e.Event, t)
	switch {
	case w.noFrom != "":
		f.Reason += ", but its window never opened: " + j.missing(w.noFrom)
		return
	case w.noTo != "":
		f.Reason += ", but its window never closed: " + j.missing(w.noTo)
		return
	case w.empty():
		f.Reason += fmt.Sprintf("; in this flight the window closes at %s, before it opens at %s", w.to, w.from)
		return
	}
	f.Answer = guard(w.from, w.to, t, t)
	f.Margin, f.Share, f.HasMargin = timeLimitsOf(w.from, w.to).margin(t.Seconds())
	if f.HasMargin {
		f.Unit = second.sign
	}
}
