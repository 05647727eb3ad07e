package verdict

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/sim"
)

// estimates compares each height or upward speed that a board reports inside a window with the true one of the body that
// carries it; the one that is off the most decides. A value of exactly 0 says that the board has no estimate.
func (j *judge) estimates(e *harness.Expectation, f *harness.Finding) {
	of := *e
	of.Stage, of.Quantity = j.rec.Plan.Setup.Bays[e.Bay].Stage, sim.Height
	if e.Report == harness.ReportedSpeed {
		of.Quantity = sim.Climb
	}
	w, u, what := j.window(e), units[of.Quantity], [...]string{harness.ReportedHeight: "height", harness.ReportedSpeed: "upward speed"}[e.Report]
	f.Wanted = fmt.Sprintf("each reported %s within %s of the truth %s", what, u.show(e.Most), w)
	switch {
	case w.noFrom != "":
		f.Reason = "the window never opened: " + j.missing(w.noFrom)
		return
	case w.empty():
		f.Reason = fmt.Sprintf("in this flight the window closes at %s, before it opens at %s", w.to, w.from)
		return
	}
	worst, judged := j.worstEstimate(&of, &w)
	name := j.rec.Plan.Setup.Bays[e.Bay].Name
	if judged == 0 {
		f.Seen, f.Reason = "no report", fmt.Sprintf("%s reported no %s %s", name, what, w)
		return
	}
	l := limits{math.Inf(-1), e.Most}
	f.Seen = fmt.Sprintf("%s at %s", u.show(worst.told), worst.at)
	f.Reason = fmt.Sprintf("%s reported a%s %s of %s at %s, off by %s", name, map[bool]string{true: "n"}[of.Quantity == sim.Climb], what, u.show(worst.told), worst.at, u.show(worst.miss))
	f.Answer = guard(l.least, l.most, worst.sure, worst.miss)
	f.Margin, f.Share, f.HasMargin = l.margin(worst.miss)
	f.Unit = u.sign
	if f.Answer != harness.Pass {
		return
	}
	why := j.windowOutside(e, &w)
	switch {
	case w.noTo != "":
		why = "the window never closed: " + j.missing(w.noTo)
	case why == "" && !j.rec.Complete() && w.to > j.end:
		why = j.endWord() + " before the window closed"
	}
	if why != "" {
		f.Answer, f.Reason = harness.Unsure, f.Reason+", but "+why
	}
}

// estimate is a reported value: how far it is from the truth at its own time, and from all that was true a tick before
// and after.
type estimate struct {
	at               sim.Time
	told, miss, sure float64
}

// worstEstimate gives the estimate inside a window that is off the most, and how many there were.
func (j *judge) worstEstimate(of *harness.Expectation, w *window) (worst estimate, judged int) {
	for i := range j.rec.Reports {
		r := &j.rec.Reports[i]
		told := r.Height
		if of.Quantity == sim.Climb {
			told = r.Speed
		}
		truth, ok := j.at(of, r.At)
		if r.Bay != of.Bay || told == 0 || !ok || !w.contains(r.At, r.At) {
			continue
		}
		t := j.tick(r.At)
		low, high, _ := j.rangeOf(of, j.rec.Times[max(t-1, 0)], j.rec.Times[min(t+1, len(j.rec.Times)-1)])
		one := estimate{r.At, told, math.Abs(told - truth), max(low-told, told-high, 0)}
		if judged++; judged == 1 || !(one.miss <= worst.miss) {
			worst = one
		}
	}
	return worst, judged
}
