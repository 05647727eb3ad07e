package page

import (
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// first is the expectation of a run that failed first by the clock.
type first struct {
	finding int      // in the verdict
	at      sim.Time // of the run
}

// firstToFail finds it; nil: none failed at a time that can be told.
func firstToFail(rec *harness.Record, tl *verdict.Timeline, v *harness.Verdict) (out *first) {
	for i := range min(len(rec.Plan.Expect), len(v.Findings)) {
		if v.Findings[i].Answer != harness.Fail {
			continue
		}
		if at, ok := failedAt(rec, tl, i); ok && (out == nil || at < out.at) {
			out = &first{i, at}
		}
	}
	return out
}

// failedAt is when it was clear that a failed expectation isn't met.
func failedAt(rec *harness.Record, tl *verdict.Timeline, i int) (at sim.Time, ok bool) {
	m := moments{rec: rec, tl: tl}
	switch e := &rec.Plan.Expect[i]; e.Kind {
	case harness.Fires:
		m.missed(i)
	case harness.Never:
		m.broken(i)
	case harness.Once:
		m.ons(e.Output, 1)
	case harness.AtFiring:
		m.ons(e.Output, 0)
	case harness.Pulse:
		m.edges(e.Output, 1)
		m.at = m.at[min(len(m.at), 1):]
	default: // by then all is known that it is about
		m.of(i)
		if len(m.at) > 0 {
			m.at = []sim.Time{slices.Max(m.at)}
		}
	}
	if len(m.at) == 0 {
		return 0, false
	}
	return slices.Min(m.at), true
}

// ons collects when an output switched on for the nth time, from 0.
func (m *moments) ons(c harness.Channel, n int) {
	if on := m.history(c); n < len(on) {
		m.add(on[n].On)
	}
}

// history is when an output was on.
func (m *moments) history(c harness.Channel) []verdict.OnInterval {
	for _, o := range m.tl.Outputs {
		if o.Channel.Bay == c.Bay && o.Channel.Channel == c.Channel {
			return o.On
		}
	}
	return nil
}

// missed collects when an output switched on before its window, or else when that closed without it.
func (m *moments) missed(i int) {
	for _, r := range m.tl.Requirements {
		if r.Expect != i || len(r.Spans) == 0 {
			continue
		}
		if on := m.history(r.Output); len(on) > 0 && on[0].On < r.Spans[0].To {
			m.add(on[0].On)
		} else {
			m.add(r.Spans[0].To)
		}
	}
}

// broken collects when an output was on where it must be dark.
func (m *moments) broken(i int) {
	for _, r := range m.tl.Requirements {
		if r.Expect != i {
			continue
		}
		for _, on := range m.history(r.Output) {
			for _, s := range r.Spans {
				if s.From < on.Off && on.On < s.To {
					m.add(max(on.On, s.From))
				}
			}
		}
	}
}

// firstText tells what failed first; told is what the reader has just been told of.
func (s *Summary) firstText(told string) string {
	if s.first == nil {
		return ""
	}
	at, text := s.first.at.Seconds(), s.verdict.Findings[s.first.finding].Text
	if text == told {
		text = "this"
	}
	return fmt.Sprintf("%s, at %.3f s of the run, %+.3f s from the launch", text, at, at-s.launch)
}
