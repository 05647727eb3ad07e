//go:build linux || darwin

package firmwarecontract

import (
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	runner "drystage/harness/run"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWallReferenceInRealTime flies the nominal flight up to the drogue by the clock on the wall: 22 s. The
// edges, told by the boards' own clocks, lie where lockstep has them, give or take what real time adds:
// the line, the board's own rhythm, and one sample period until the flight feels an edge.
func TestWallReferenceInRealTime(t *testing.T) {
	if raceOn {
		t.Skip("the race detector is too slow for the clock on the wall; the suite flies it without")
	}
	program := reference(t)
	plan := planOf(t, "../scenarios/nominal.yaml")
	plan.Setup.Until = sim.Anchor{Event: sim.EventApogee, Offset: 2 * sim.Second}
	var expect []harness.Expectation
	for _, e := range plan.Expect {
		if name := e.Output.Name; e.Kind == harness.Alive || e.Kind == harness.Fires && (name == "sustainer.ignite" || name == "sustainer.drogue") {
			expect = append(expect, e)
		}
	}
	require.Len(t, expect, 4)
	plan.Expect = expect

	still := flyWith(t, plan, runner.Options{Boards: []string{"exec:" + program}, AnswerLimit: time.Second})
	// The limit is wide, since other tests share the machine; what was reached is printed.
	rec := flyWith(t, plan, runner.Options{Boards: []string{"exec:" + program}, RealTime: true, LateLimit: 50 * time.Millisecond, AnswerLimit: time.Second})
	v := verdict.Judge(rec)
	for _, f := range v.Findings {
		assert.Equal(t, harness.Pass, f.Answer, "%s: %s", f.Text, f.Reason)
	}
	assert.Equal(t, rec.Ticks(), v.Timing.Frames)
	us := func(x sim.Time) time.Duration { return time.Duration(x).Round(time.Microsecond) }
	t.Logf("%d instants, late by %s (p50), %s (p99), %s (p99.9), %s at most; %s", v.Timing.Frames,
		us(v.Timing.P50), us(v.Timing.P99), us(v.Timing.P999), us(v.Timing.Most), v.Timing.How)
	require.Len(t, rec.Clocks, 2)
	for _, c := range rec.Clocks {
		assert.Empty(t, c.Trouble)
		assert.InDelta(t, 0, c.Drift, 1e-3, "one machine, one clock")
		t.Logf("board %d: clock off by %s, drift %.2g, known to +- %s; %d of %d readings used", c.Bay+1, us(c.Offset), c.Drift, us(c.Within), c.Used, c.Readings)
	}
	require.Len(t, rec.Outputs, len(still.Outputs))
	for i, e := range rec.Outputs {
		assert.Equal(t, harness.ByClock, e.Basis)
		assert.Equal(t, still.Outputs[i].Channel, e.Channel)
		assert.Equal(t, still.Outputs[i].On, e.On)
		assert.InDelta(t, still.Outputs[i].At.Seconds(), e.At.Seconds(), 0.06, "edge %d", i)
	}
}
