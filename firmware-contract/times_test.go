package firmwarecontract

import (
	"fmt"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/suite"
	"drystage/harness/judge/verdict"
	runner "drystage/harness/run"
	"drystage/sim"
)

// TestReferenceKeepsItsTimes flies the reference's own scenarios: each holds a number of its design, by windows of a few
// hundredths of a second around what it does today. Where its behaviour is meant to change, make them anew and read the
// difference, which tells each decision that has moved:
//
//	UPDATE_TIMES=1 go test ./firmware-contract -run ReferenceKeepsItsTimes
func TestReferenceKeepsItsTimes(t *testing.T) {
	fly := func(each func(rec *harness.Record)) {
		s, err := suite.Load([]string{"reference/scenarios"}, io.Discard)
		require.NoError(t, err)
		b, err := runner.Open(t.Context(), runner.Options{Link: onMock}, s.Plans)
		require.NoError(t, err)
		defer b.Close()
		require.NoError(t, b.Fly(t.Context(), s.Plans, func(_ int, rec *harness.Record) error { each(rec); return nil }))
	}
	if os.Getenv("UPDATE_TIMES") != "" {
		fly(func(rec *harness.Record) {
			file := rec.Plan.File
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			head, _, _ := strings.Cut(string(text), "expect:\n")
			require.NoError(t, os.WriteFile(file, []byte(head+"expect:\n"+times(rec)), 0o644))
		})
	}
	fly(func(rec *harness.Record) {
		v := verdict.Judge(rec)
		assert.Empty(t, failures(&v), rec.Plan.Name)
	})
}

// times gives expectations around what the boards of a flight have done.
func times(rec *harness.Record) string {
	var out strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&out, "  - {"+format+"}\n", args...) }
	for i := range rec.Plan.Setup.Bays {
		bay := &rec.Plan.Setup.Bays[i]
		apogee := map[bool]string{true: "booster.apogee", false: "apogee"}[bay.Name == "booster"]
		for _, w := range bay.Wires {
			pulses(rec, i, w.Channel, bay.Name+"."+w.Name, map[bool]string{true: "booster.burnout", false: apogee}[w.Effect.Kind == sim.Ignite], line)
		}
		for _, span := range [][2]sim.Anchor{
			{{Event: sim.EventStart, Offset: 25 * sim.Second / 10}, {Event: sim.EventLiftoff}},
			{{Event: sim.EventLiftoff, Offset: 3 * sim.Second / 10}, {Event: apogee}},
			{{Event: apogee}, {Event: bay.Name + "." + sim.StageLanding}},
		} {
			if miss, judged := worstReport(rec, i, harness.ReportedHeight, span); judged {
				line("report: height, board: %s, within: %.2f m, from: %s, to: %s", bay.Name, miss, span[0], span[1])
			}
			if miss, judged := worstReport(rec, i, harness.ReportedSpeed, span); judged {
				line("report: speed, board: %s, within: %.2f m/s, from: %s, to: %s", bay.Name, miss, span[0], span[1])
			}
		}
	}
	return out.String()
}

// pulses gives expectations around the pulses of an output: its first edge within a tick and some more, counted from an event.
func pulses(rec *harness.Record, bay, channel int, name, event string, line func(format string, args ...any)) {
	const ms, tolerance = sim.Second / 1000, 12 * sim.Second / 1000
	var edges []harness.Edge
	for _, e := range rec.Outputs {
		if e.Bay == bay && e.Channel == channel {
			edges = append(edges, e)
		}
	}
	from, happened := sim.Anchor{Event: event}.In(rec.Events)
	if !happened {
		event, from = "start", 0
	}
	switch {
	case len(edges) == 0:
		line("never: %s", name)
		return
	case len(edges) <= 2:
		line("once: %s", name)
	}
	on := edges[0]
	middle, wide := (on.At-from)/ms*ms, (on.Within+tolerance)/ms*ms
	line("fires: %s, from: %s, to: %s", name, sim.Anchor{Event: event, Offset: middle - wide}, sim.Anchor{Event: event, Offset: middle + wide})
	if len(edges) == 2 {
		long := float64(edges[1].At-on.At) / float64(sim.Second)
		line("pulse: %s, at_least: %.3f s, at_most: %.3f s", name, long-0.015, long+0.015)
	}
}

// worstReport says how far reports of a board are from the truth in a part of the flight, and a little more.
func worstReport(rec *harness.Record, bay int, kind harness.ReportKind, span [2]sim.Anchor) (miss float64, judged bool) {
	const wide, least = 1e6, 0.3
	e := harness.Expectation{Kind: harness.Reports, Bay: bay, Report: kind, Most: wide, HasMost: true, HasFrom: true, HasTo: true,
		From: span[0], To: span[1]}
	one := *rec
	one.Plan.Expect = []harness.Expectation{e}
	v := verdict.Judge(&one)
	f := v.Findings[0]
	return max(least, 1.1*(wide-f.Margin)), f.Answer == harness.Pass && f.HasMargin
}
