package verdict

import (
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// reaction judges how long after its cause an output switches. The first such edge at or after the cause counts. A
// change that would need the output to be on, or off, at the time of the cause, and finds it otherwise, proves nothing
// when it is to go off, and is a reaction before its cause when it is to go on. An edge that may lie before its cause is
// unsure.
func (j *judge) reaction(e *harness.Expectation, f *harness.Finding) {
	limit := seconds(e.Most)
	word := map[bool]string{false: "on", true: "off"}[e.Off]
	f.Wanted = fmt.Sprintf("%s %s at most %s after %s", e.Output.Name, word, span(limit), e.Event)
	cause, ok := sim.Anchor{Event: e.Event}.In(j.rec.Events)
	if !ok {
		f.Seen = e.Event + " not up to " + j.end.String()
		f.Reason = "there is nothing to react to: " + j.missing(e.Event)
		return
	}
	edge, before := j.edgeAfter(e, cause)
	switch {
	case edge == nil && before && !e.Off:
		f.Seen = "on before " + e.Event
		f.Reason = fmt.Sprintf("%s had switched on before %s at %s, and did not switch on after it", e.Output.Name, e.Event, cause)
		if j.covered(e.Output.Bay, add(cause, limit)) {
			f.Answer = harness.Fail
		}
	case edge == nil && !before && e.Off:
		f.Seen = fmt.Sprintf("dark at %s", cause)
		f.Reason = fmt.Sprintf("%s was not on at %s, when %s came, so that there is nothing to measure", e.Output.Name, cause, e.Event)
	case edge == nil:
		f.Seen = fmt.Sprintf("no change after %s at %s", e.Event, cause)
		f.Reason = fmt.Sprintf("%s did not go %s after %s; %s", e.Output.Name, word, e.Event, j.endWord())
		if j.covered(e.Output.Bay, add(cause, limit)) {
			f.Answer = harness.Fail
		}
	default:
		j.judgeReaction(e, f, edge.since(instant{at: cause}), limit)
		if edge.low() < cause {
			f.Answer = harness.Unsure
			f.Reason += ", and may have switched before it"
		}
	}
}

func (j *judge) judgeReaction(e *harness.Expectation, f *harness.Finding, took instant, limit sim.Time) {
	f.Answer = guard(-sim.Never, limit, took.low(), took.high())
	f.Margin, f.Share, f.HasMargin = timeLimitsOf(-sim.Never, limit).margin(took.at.Seconds())
	f.Unit = second.sign
	f.Seen = took.String() + " after " + e.Event
	f.Reason = fmt.Sprintf("%s took %s after %s", e.Output.Name, took, e.Event)
	if f.Answer == harness.Unsure {
		f.Reason += ", too near to its limit to tell"
	}
}

// edgeAfter gives the first edge at or after a cause that goes on, or off if the expectation says so. before says that
// the output had been on before, or, if it is to go off, that it was on at the cause.
func (j *judge) edgeAfter(e *harness.Expectation, cause sim.Time) (edge *instant, before bool) {
	exact := j.onTicks(e)
	for _, l := range j.onIntervals(e.Output) {
		at := l.on
		if e.Off {
			at = l.off
		}
		if exact {
			at.within = 0
		}
		late := at.high() >= cause
		if e.Off {
			on := l.on.at <= cause && (l.open || late)
			before, late = before || on, on && !l.open
		} else {
			before = before || l.on.at < cause
		}
		if late {
			return &at, before
		}
	}
	return nil, before
}

// onTicks says that cause and edge are both on the ticks of a lockstep run, so that their distance is a whole number
// of them: the board gets a command in the exchange in which it can answer.
func (j *judge) onTicks(e *harness.Expectation) bool {
	marked := slices.ContainsFunc(j.rec.Plan.Setup.Marks, func(m sim.Mark) bool { return m.Name == e.Event })
	return marked && !j.rec.Pace.RealTime && !slices.ContainsFunc(j.rec.Outputs, func(x harness.Edge) bool {
		return x.Bay == e.Output.Bay && x.Channel == e.Output.Channel && x.Basis != harness.ByTick
	})
}
