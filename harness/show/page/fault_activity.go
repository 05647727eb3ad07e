package page

import (
	"fmt"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
	"drystage/sim/fault"
)

// faultActivity is one fault of a run, and when it changed something.
type faultActivity struct {
	Text  string
	Seen  string // when, in words
	spans []verdict.Span
}

// mergeGap is how near to each other instants at which a fault changed something are drawn as one: those of
// the slowest part are a tenth of a second apart, common practice.
const mergeGap = sim.Second / 4

func faultActivities(rec *harness.Record) (list []faultActivity) {
	for i := range rec.Plan.Setup.Faults {
		m := faultActivity{Text: fault.Text(rec.Plan.Setup.Faults[i], &rec.Plan.Setup)}
		for tick, active := range rec.Active {
			if active>>uint(i)&1 == 0 {
				continue
			}
			from := rec.Times[tick]
			to := rec.Times[min(tick+1, len(rec.Times)-1)]
			if n := len(m.spans); n > 0 && (from-m.spans[n-1].To < mergeGap || n == maxSpans) {
				m.spans[n-1].To = to
			} else {
				m.spans = append(m.spans, verdict.Span{From: from, To: to})
			}
		}
		m.Seen = m.when(rec.FaultTicks(i))
		list = append(list, m)
	}
	return list
}

// when tells in words when a fault changed something.
func (m *faultActivity) when(ticks int) string {
	switch {
	case ticks == 0:
		return "changed nothing"
	case ticks == 1:
		return "came at " + m.spans[0].From.String()
	case len(m.spans) == 1:
		return fmt.Sprintf("changed something from %s to %s", m.spans[0].From, m.spans[0].To)
	}
	return fmt.Sprintf("changed something %d times, first at %s, last until %s", len(m.spans), m.spans[0].From, m.spans[len(m.spans)-1].To)
}
