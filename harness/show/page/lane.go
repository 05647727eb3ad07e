package page

import (
	"drystage/harness"
	"drystage/harness/judge/verdict"
)

// lane is one output against time: what was demanded of it, and when it was on.
type lane struct {
	name   string
	answer string // of what was demanded of it, the worst; or that nothing was
	must   []verdict.Span
	dark   []verdict.Span
	on     []verdict.OnInterval
}

// maxSpans is how many spans of a lane are kept; a picture can't show more.
const maxSpans = 200

func lanes(rec *harness.Record, sight *verdict.Timeline, v *harness.Verdict) []lane {
	list := make([]lane, 0, len(sight.Outputs))
	for _, o := range sight.Outputs {
		l := lane{name: o.Channel.Name, on: o.On[:min(len(o.On), maxSpans)]}
		for _, d := range sight.Requirements {
			if d.Output.Bay != o.Channel.Bay || d.Output.Channel != o.Channel.Channel {
				continue
			}
			if d.Never {
				l.dark = append(l.dark, d.Spans[:min(len(d.Spans), maxSpans)]...)
			} else {
				l.must = append(l.must, d.Spans...)
			}
		}
		if l.answer = answerOf(rec, o.Channel, v); o.Undeclared && len(o.On) > 0 {
			l.name, l.answer = l.name+", which no file declares", harness.Unsure.String()
		}
		list = append(list, l)
	}
	return list
}

// answerOf is the worst answer to what was demanded of an output.
func answerOf(rec *harness.Record, c harness.Channel, v *harness.Verdict) string {
	is := func(x harness.Channel) bool { return x.Bay == c.Bay && x.Channel == c.Channel }
	var about []harness.Verdict
	for i := range rec.Plan.Expect {
		e := &rec.Plan.Expect[i]
		if e.Kind == harness.AtEvent || e.Kind == harness.Reports || e.Kind == harness.Alive || e.Kind == harness.Happens || i >= len(v.Findings) {
			continue
		}
		if is(e.Output) || e.Kind == harness.Order && is(e.Then) {
			about = append(about, harness.Verdict{Answer: v.Findings[i].Answer})
		}
	}
	if len(about) == 0 {
		return "nothing demanded"
	}
	return harness.Worst(about).String()
}
