package verdict_test

import (
	"cmp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// An output that fired in its window doesn't prove that its device responded.
func TestFiresAndIsAnswered(t *testing.T) {
	for _, c := range []struct {
		reason string
		kind   sim.EffectKind
		events []sim.Event
		cut    sim.Time
		want   harness.Answer
		says   string
	}{
		{"it opens when it should", sim.Deploy, []sim.Event{{Name: "sustainer.drogue", At: s(10.3)}}, 0, harness.Pass, "inside the window"},
		{"it never opens", sim.Deploy, nil, 0, harness.Fail, "sustainer.drogue never came: it was on for 0.100 s"},
		{"it was open before", sim.Deploy, []sim.Event{{Name: "sustainer.drogue", At: s(9.9)}}, 0, harness.Fail, "before that"},
		{"it opens for another reason, far too late", sim.Deploy, []sim.Event{{Name: "sustainer.drogue", At: s(11)}}, 0, harness.Fail, "came only at 11.000 s"},
		{"the run ends before it has to be open", sim.Deploy, nil, s(10.2), harness.Unsure, "before sustainer.drogue had to come"},
		{"a motor lights", sim.Ignite, []sim.Event{{Name: "sustainer.ignition", At: s(10.35)}}, 0, harness.Pass, ""},
		{"a motor doesn't", sim.Ignite, nil, 0, harness.Fail, "sustainer.ignition never came"},
		{"stages part", sim.Separate, []sim.Event{{Name: "sustainer.separation", At: s(10.1)}}, 0, harness.Pass, ""},
		{"they don't", sim.Separate, nil, 0, harness.Fail, "sustainer.separation never came"},
		{"a lamp", sim.Nothing, nil, 0, harness.Unsure, "nothing of the vehicle is tied to it"},
	} {
		e := fires(at("apogee", 0), at("apogee", s(1)))
		e.Answers = true
		rec := lit(flight(e), drogue, s(10.1), s(10.2), 0)
		rec.Plan.Setup.Bays[0].Wires[0].Effect.Kind = c.kind
		st := &rec.Plan.Setup.Vehicle.Stages[0]
		st.Recovery = []sim.Device{{Name: "drogue", Pulse: s(0.15), Delay: s(0.1)}}
		st.Mount.Igniter = sim.Igniter{Pulse: s(0.05), Delay: s(0.15), Scatter: s(0.02)}
		rec.Events = append(rec.Events, c.events...)
		slices.SortFunc(rec.Events, func(a, b sim.Event) int { return cmp.Compare(a.At, b.At) })
		if c.cut != 0 {
			cut(rec, c.cut)
		}
		f := first(rec)
		assert.Equal(t, c.want, f.Answer, "%s: %s", c.reason, f.Reason)
		assert.Contains(t, f.Reason, c.says, c.reason)
		rec.Plan.Expect[0].Answers = false
		assert.Equal(t, harness.Pass, first(rec).Answer, "without answers: %s", c.reason)
	}
}

func TestHappens(t *testing.T) {
	for _, c := range []struct {
		reason   string
		event    string
		from, to sim.Anchor
		cut      sim.Time
		want     harness.Answer
	}{
		{"it does", "apogee", sim.Anchor{}, sim.Anchor{}, 0, harness.Pass},
		{"it doesn't", "sustainer.ignition", sim.Anchor{}, sim.Anchor{}, 0, harness.Fail},
		{"it may have come later", "apogee", sim.Anchor{}, sim.Anchor{}, s(9), harness.Unsure},
		{"inside", "apogee", at("liftoff", s(9)), at("liftoff", s(11)), 0, harness.Pass},
		{"too early", "apogee", at("liftoff", s(10.1)), at("liftoff", s(11)), 0, harness.Fail},
		{"too late", "apogee", at("liftoff", s(1)), at("liftoff", s(9.9)), 0, harness.Fail},
		{"too late for a record that was cut", "apogee", at("liftoff", s(1)), at("liftoff", s(5)), s(9), harness.Fail},
		{"a window that never opens", "apogee", at("separation", 0), at("landing", 0), 0, harness.Unsure},
		{"a window that never closes", "apogee", at("liftoff", 0), at("separation", 0), 0, harness.Unsure},
		{"a window that closes first", "apogee", at("liftoff", s(12)), at("liftoff", s(11)), 0, harness.Unsure},
	} {
		e := harness.Expectation{Kind: harness.Happens, Text: "it happens", Event: c.event, From: c.from, To: c.to}
		e.HasFrom, e.HasTo = c.from != sim.Anchor{}, c.to != sim.Anchor{}
		rec := flight(e)
		if c.cut != 0 {
			cut(rec, c.cut)
		}
		f := verdict.Judge(rec).Findings[0]
		assert.Equal(t, c.want, f.Answer, "%s: %s", c.reason, f.Reason)
	}
}
