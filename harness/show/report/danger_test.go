package report_test

import (
	"bytes"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/harness/show/report"
	"drystage/sim"
)

// Of many failures the most dangerous is told first, and stands in the table, however small its share: a motor that was
// lit where it must not be, another output, an output that did not switch on, a report.
func TestTheMostDangerousFailureIsToldFirst(t *testing.T) {
	at := func(line int) harness.Place { return harness.Place{File: "x.yaml", Line: line, Column: 5} }
	output := func(c int, name string) harness.Channel { return harness.Channel{Channel: c, Name: name} }
	rec := &harness.Record{Plan: harness.Plan{Name: "x", File: "x.yaml", Boards: []harness.Board{{Role: "top"}}}}
	rec.Plan.Setup.Vehicle.Stages = make([]sim.Stage, 1)
	rec.Plan.Setup.Bays = []sim.Bay{{Wires: []sim.Wire{
		{Channel: 1, Name: "ignite", Effect: sim.Effect{Kind: sim.Ignite}}, {Channel: 2, Name: "drogue", Effect: sim.Effect{Kind: sim.Deploy}}, {Channel: 3, Name: "main"}}}}
	rec.Plan.Expect = []harness.Expectation{
		{Kind: harness.Reports, Text: "reports", Place: at(1), Report: harness.ApogeeHeight, Most: 1, HasMost: true},
		{Kind: harness.Fires, Text: "main fires", Place: at(2), Output: output(3, "main"), To: sim.Anchor{Offset: sim.Second}},
		{Kind: harness.Never, Text: "drogue never fires", Place: at(3), Output: output(2, "drogue"), To: sim.Anchor{Offset: sim.Never}},
		{Kind: harness.Never, Text: "ignite never fires", Place: at(4), Output: output(1, "ignite"), To: sim.Anchor{Offset: sim.Never}},
		{Kind: harness.Once, Text: "drogue fires at most once", Place: at(5), Output: output(2, "drogue")},
	}
	v := verdict.Judge(rec)
	for i := range v.Findings {
		v.Findings[i].Answer = harness.Fail // the dangers are those of Judge
	}
	v.Answer = harness.Fail
	var b bytes.Buffer
	require.NoError(t, report.Terminal(&b, []harness.Verdict{v}, report.Options{Width: 100}))
	var told []string
	for _, m := range regexp.MustCompile(`(?m)^  fail    (.*)$`).FindAllStringSubmatch(b.String(), -1) {
		told = append(told, m[1])
	}
	assert.Equal(t, []string{"ignite never fires", "drogue never fires", "drogue fires at most once", "main fires", "reports"}, told[:5], b.String())
	f, ok := report.Deciding(&v)
	assert.True(t, ok)
	assert.Equal(t, "ignite never fires", f.Text)
}
