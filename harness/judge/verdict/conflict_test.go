package verdict_test

import (
	"testing"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestConflictsFail(t *testing.T) {
	const ms = sim.Millisecond
	for _, c := range []struct {
		reason string
		c      harness.Conflict
		text   string
		want   string
	}{
		{"told, never seen", harness.Conflict{Channel: 2, On: true, Told: 12300 * ms, ToldWithin: ms, HasTold: true}, "sustainer.drogue: board and pin agree",
			"the board says that it switched on at 12.300 s ± 0.001000 s, and its pin never moved"},
		{"seen, never told", harness.Conflict{Channel: 2, Seen: 12300 * ms, SeenWithin: ms, HasSeen: true}, "sustainer.drogue: board and pin agree",
			"its pin switched off at 12.300 s ± 0.001000 s, and the board says nothing of it"},
		{"apart, with both times", harness.Conflict{Channel: 9, On: true, Told: 12300 * ms, ToldWithin: ms, HasTold: true, Seen: 12350 * ms, SeenWithin: 2 * ms, HasSeen: true}, "sustainer.9: board and pin agree",
			"the board says that it switched on at 12.300 s ± 0.001000 s, its pin did so at 12.350 s ± 0.002000 s: 0.050 s apart, where 0.003000 s can be explained"},
		{"a bay that is not there", harness.Conflict{Bay: 7, Channel: 1}, "output 1 of board 7: board and pin agree", "does not say how"},
	} {
		rec := &harness.Record{Conflicts: []harness.Conflict{c.c}}
		rec.Plan.Setup.Bays = []sim.Bay{{Name: "sustainer", Wires: []sim.Wire{{Channel: 2, Name: "drogue"}}}}
		rec.Plan.Setup.Vehicle.Stages = make([]sim.Stage, 1)
		v := verdict.Judge(rec)
		assert.Equal(t, harness.Fail, v.Answer, c.reason)
		require.NotEmpty(t, v.Findings)
		assert.Equal(t, c.text, v.Findings[0].Text, c.reason)
		assert.Contains(t, v.Findings[0].Reason, c.want, c.reason)
	}
}
