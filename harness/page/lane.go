package page

import (
	"fmt"

	"drystage/harness"
	"drystage/harness/verdict"
	"drystage/sim"
	"drystage/sim/fault"
)

// lane is one output against time: what was demanded of it, and when it was on.
type lane struct {
	name   string
	answer string // of what was demanded of it, the worst; or that nothing was
	must   []verdict.Span
	dark   []verdict.Span
	lights []verdict.Light
}

// most is how many spans of a lane are kept; beyond that a picture is grey anyhow.
const most = 200

func lanes(rec *harness.Record, sight *verdict.Sight, v *harness.Verdict) []lane {
	list := make([]lane, 0, len(sight.Outputs))
	for _, o := range sight.Outputs {
		l := lane{name: o.Channel.Name, lights: o.Lights[:min(len(o.Lights), most)]}
		for _, d := range sight.Demands {
			if d.Output.Bay != o.Channel.Bay || d.Output.Channel != o.Channel.Channel {
				continue
			}
			if d.Dark {
				l.dark = append(l.dark, d.Spans[:min(len(d.Spans), most)]...)
			} else {
				l.must = append(l.must, d.Spans...)
			}
		}
		l.answer = answerOf(rec, o.Channel, v)
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
		if e.Kind == harness.AtEvent || e.Kind == harness.Reports || e.Kind == harness.Alive || i >= len(v.Findings) {
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

// mischief is one fault of a run, and when it changed something.
type mischief struct {
	Text  string
	Seen  string // when, in words
	spans []verdict.Span
}

// together is how near to each other instants at which a fault changed something are drawn as one: those of
// the slowest part are a tenth of a second apart, common practice.
const together = sim.Second / 4

func mischiefs(rec *harness.Record) (list []mischief) {
	for i := range rec.Plan.Setup.Faults {
		m := mischief{Text: fault.Text(rec.Plan.Setup.Faults[i], &rec.Plan.Setup)}
		for tick, active := range rec.Active {
			if active>>uint(i)&1 == 0 {
				continue
			}
			from := rec.Times[tick]
			to := rec.Times[min(tick+1, len(rec.Times)-1)]
			if n := len(m.spans); n > 0 && (from-m.spans[n-1].To < together || n == most) {
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
func (m *mischief) when(ticks int) string {
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

// said is what one board said of the flight: its phases, in its own words.
type said struct {
	Role   string
	Phases []phase
	More   int // changes that are left out
}

type phase struct {
	From, Until sim.Time
	Name        string
	Height      float64 // m, as the board had it when the phase began
}

func reported(rec *harness.Record) []said {
	list := make([]said, len(rec.Plan.Setup.Bays))
	end := rec.Times[rec.Ticks()-1]
	for i := range list {
		list[i].Role = rec.Plan.Setup.Bays[i].Name
	}
	for i := range rec.Reports {
		r := &rec.Reports[i]
		if r.Bay < 0 || r.Bay >= len(list) {
			continue
		}
		s, name := &list[r.Bay], r.PhaseText()
		n := len(s.Phases)
		switch {
		case n > 0 && s.Phases[n-1].Name == name:
		case n == 60:
			s.More++
		default:
			if n > 0 {
				s.Phases[n-1].Until = r.At
			}
			s.Phases = append(s.Phases, phase{r.At, end, name, r.Height})
		}
	}
	return list
}
