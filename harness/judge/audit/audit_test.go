package audit_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/audit"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
	"drystage/scenarios"
	"drystage/sim"
	"drystage/sim/world"
)

// staged is a flight up to staging, with a spoilt accelerometer on the way.
var staged = short{"early-spike", "booster.burnout + 2.6 s", ignites + ", {firing: sustainer.ignite, quantity: tilt, at_most: 20 deg}, " + alive}

// TestAudit changes an honest record in one way each, as somebody might who wants another verdict.
func TestAudit(t *testing.T) {
	plan := staged.plan(t)
	honest := fly(t, &plan, "")
	require.Empty(t, audit.Audit(honest, audit.Options{Made: made}))
	require.Equal(t, harness.Pass, verdict.Judge(honest).Answer)
	at := slices.IndexFunc(honest.Outputs, func(e harness.Edge) bool { return e.On })
	other := made
	other.Version, other.Arch = "older", "another"
	for _, c := range []struct {
		reason string
		change func(r *harness.Record)
		says   string
	}{
		{"its expectations are gone, its digest is kept", func(r *harness.Record) { r.Plan.Expect = r.Plan.Expect[:1] }, "the number of Expect is 1 in the plan, and 5 by its files"},
		{"a limit is wider, its digest is kept", func(r *harness.Record) { r.Plan.Expect[2].Most = 9 }, "Expect[2].Most is 9 in the plan, and 0.349"},
		{"another scenario's files, under the digest of the first", func(r *harness.Record) {
			r.Plan.Files[0].Text += "# x\n"
		}, "Digest is"},
		{"another wind", func(r *harness.Record) { r.Plan.Setup.Wind.Speed = 0 }, "Setup.Wind.Speed is 0 in the plan, and 3 by its files"},
		{"another setting of a board", func(r *harness.Record) { r.Plan.Boards[0].Settings[0].Value++ }, "Boards[0].Settings[0].Value is"},
		{"a rehearsal that nothing needs", func(r *harness.Record) { r.Plan.Setup.Rehearsed = world.Rehearse(&r.Plan.Setup) }, "the number of Setup.Rehearsed is"},
		{"another seed", func(r *harness.Record) { r.Plan.Setup.Seed++ }, "States[0].Position.X is"},
		{"a flight of a sweep", func(r *harness.Record) { r.Plan.Drawn.Flight = 1 }, "Name is \"short\" in the plan, and \"short.flight1\" by its files"},
		{"a flight of a sweep that there is not", func(r *harness.Record) { r.Plan.Drawn.Flight = -1 }, "flight -1 of a sweep"},
		{"no files", func(r *harness.Record) { r.Plan.Files = nil }, "the record has lost them"},
		{"a file is gone", func(r *harness.Record) { r.Plan.Files = r.Plan.Files[:2] }, "no such file"},
		{"cut at a tick, as if it had ended there", func(r *harness.Record) {
			n := r.Ticks() - 100
			r.Times, r.Active, r.States, r.Frames = r.Times[:n], r.Active[:n], r.States[:2*n], r.Frames[:2*n]
		}, "it goes on, and the record ends after"},
		{"a tick too many", func(r *harness.Record) {
			r.Times, r.Active = append(r.Times, r.Times[len(r.Times)-1]+1), append(r.Active, 0)
			r.States, r.Frames = append(r.States, r.States[:2]...), append(r.Frames, r.Frames[:2]...)
		}, "it ends at"},
		{"a state", func(r *harness.Record) { r.States[777].Velocity.Z += 1e-9 }, "in tick 388 at 1.940 s, States[1].Velocity.Z is"},
		{"a sample", func(r *harness.Record) { r.Frames[778].Pressure++ }, "in tick 389 at 1.945 s, Frames[0].Pressure is"},
		{"what faults touched", func(r *harness.Record) { r.Active[5] = 1 }, "Active is 1, and 0 when it is flown again"},
		{"what a fault did", func(r *harness.Record) { r.Injected[0].Is.X++ }, "Injected[0].Is.X is"},
		{"an injection less", func(r *harness.Record) { r.Injected = r.Injected[1:] }, "Injected"},
		{"an event's time", func(r *harness.Record) { r.Events[3].At++ }, "Events[3].At is"},
		{"an edge's time", func(r *harness.Record) { r.Outputs[at].At += 5 * sim.Millisecond }, "and the flight felt output"},
		{"an edge's time, also as felt", func(r *harness.Record) {
			r.Outputs[at].At += 5 * sim.Millisecond
			r.FlightOutputs[at].At += 5 * sim.Millisecond
		}, "when it is flown again"},
		{"an edge is gone, also as felt", func(r *harness.Record) {
			r.Outputs, r.FlightOutputs = slices.Delete(r.Outputs, at, at+1), slices.Delete(r.FlightOutputs, at, at+1)
		}, "when it is flown again"},
		{"an edge of no tick", func(r *harness.Record) { r.Outputs[at].At++; r.FlightOutputs[at].At++ }, "is of no tick"},
		{"an edge's uncertainty", func(r *harness.Record) { r.Outputs[at].Within *= 2 }, "Within is"},
		{"a frame that was lost is forgotten", func(r *harness.Record) { r.Changes[len(r.Changes)-1].Lost = 1 }, "Health[1].Lost is 0 at the end, and was 1 at 0.000 s, when it last changed"},
		{"an answer too many", func(r *harness.Record) { r.Health[0].RoundTrips++ }, "board 0 answered"},
		{"a handshake too many", func(r *harness.Record) { r.Health[0].Boots++; r.Changes[0].Boots++ }, "board 0 shook hands 2 times, was given its supply 1 times"},
		{"a report less", func(r *harness.Record) { r.Reports = r.Reports[1:] }, "reports are on record"},
		{"a board more", func(r *harness.Record) { r.Health = append(r.Health, harness.Health{}) }, "the health of 3 boards, and 2 flew"},
		{"a clock, in lockstep", func(r *harness.Record) { r.Pace.Limit = 1 }, "it holds times of a clock"},
		{"another drystage", func(r *harness.Record) { r.Made = other }, "drystage older on another made it, and this is drystage test on any; fly it again with this one"},
		{"nobody made it", func(r *harness.Record) { r.Made = harness.Maker{} }, "drystage of an unknown version on an unknown processor made it"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			rec := copyOf(t, honest)
			c.change(rec)
			doubts := audit.Audit(rec, audit.Options{Made: made})
			require.NotEmpty(t, doubts)
			assert.Equal(t, harness.Unsure, doubts[0].Answer)
			assert.Contains(t, doubts[0].Reason, c.says)
			assert.NotEqual(t, harness.Pass, verdict.Judge(rec, doubts...).Answer)
		})
	}
	rec := copyOf(t, honest)
	rec.States = rec.States[1:]
	assert.Empty(t, audit.Audit(rec, audit.Options{Made: made}), "of a malformed record the verdict tells")
}

// TestAuditAgainstTheSuite: a record of the files of today must have the plan that they make today; where the
// folder lies, and the seed, don't matter.
func TestAuditAgainstTheSuite(t *testing.T) {
	plan, problems := scenario.Load(scenarios.Files, "baro-jump-fast.yaml")
	require.Empty(t, problems)
	today := plan
	moved, problems := scenario.Load(scenario.Disk{}, "../../../scenarios/baro-jump-fast.yaml")
	require.Empty(t, problems)
	moved.Setup.Seed = 9
	run.Rehearse(&moved.Setup)
	require.NotEmpty(t, moved.Setup.Rehearsed, "a fault begins before an event")
	rec := &harness.Record{Plan: moved, Made: made}
	text := func() (all []string) {
		for _, f := range audit.Audit(rec, audit.Options{Made: made, Suite: []harness.Plan{today}}) {
			all = append(all, f.Text)
		}
		return all
	}
	const differs = "the plan is that of the suite"
	require.NotContains(t, text(), differs)
	rec.Plan.Expect = rec.Plan.Expect[1:]
	require.Contains(t, text(), differs)
	rec.Plan.Name = "other"
	require.NotContains(t, text(), differs, "another scenario")
}

// TestTheWordOfABoardAlone shows that what is listed as borne out by nothing else is just that: changed, it makes
// a record pass that did not.
func TestTheWordOfABoardAlone(t *testing.T) {
	plan := short{"nominal", "apogee + 1 s", "{report: apogee_height, board: sustainer, within: 30 m}"}.plan(t)
	change := map[string]func(good, r *harness.Record, last int){
		"Reports[].Apogee": func(good, r *harness.Record, last int) { r.Reports[last].Apogee = good.Reports[last].Apogee },
		"Reports[].At":     func(good, r *harness.Record, last int) { r.Reports[last-2].At = r.Reports[last].At + 1 },
	}
	good := fly(t, &plan, "")
	last := len(good.Reports) - 1
	for good.Reports[last].Bay != 0 {
		last--
	}
	for name := range wordAlone {
		bad := copyOf(t, good)
		bad.Reports[last].Apogee += 100 // as the board might have said
		require.Equal(t, harness.Fail, verdict.Judge(bad).Answer)
		require.Contains(t, change, name)
		change[name](good, bad, last)
		doubts := audit.Audit(bad, audit.Options{Made: made})
		require.Empty(t, doubts, name)
		require.Equal(t, harness.Pass, verdict.Judge(bad, doubts...).Answer, name)
	}
}
