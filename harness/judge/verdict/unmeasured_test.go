package verdict_test

import (
	"testing"

	"drystage/harness"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
)

// unmeasured puts a default of 5 ms onto outputs of a record.
func unmeasured(rec *harness.Record, cs ...harness.Channel) *harness.Record {
	for _, c := range cs {
		rec.Unmeasured = append(rec.Unmeasured, harness.Unmeasured{Bay: c.Bay, Channel: c.Channel, Within: 5 * ms,
			Why: "the rig was never measured", Next: "run drystage rig shed.yaml --measure, or --loopback"})
	}
	return rec
}

// TestUnmeasured: 8 times 5 ms is far wider, in lockstep (where edges are as sure as the tick) as well as
// by a pin in real time (where they carry the default themselves).
func TestUnmeasured(t *testing.T) {
	fires := harness.Expectation{Kind: harness.Fires, Output: drogue, From: sim.Anchor{Offset: s(5)}, To: sim.Anchor{Offset: s(5.04)}}
	narrow := fires
	narrow.To.Offset -= 1
	pulse := harness.Expectation{Kind: harness.Pulse, Output: drogue, Least: 0.5, HasLeast: true, Most: 0.57, HasMost: true}
	atLeast := pulse
	atLeast.HasMost = false
	order := harness.Expectation{Kind: harness.Order, Output: drogue, Then: main}
	never := harness.Expectation{Kind: harness.Never, Output: main}
	on := func(e harness.Expectation, within sim.Time) *harness.Record {
		return lit(flight(e), drogue, s(5.02), s(5.02)+s(0.53), within)
	}
	late := lit(on(narrow, 0), main, s(9), 0, 0)
	late.Outputs = late.Outputs[2:]
	for i := range late.Outputs {
		late.Outputs[i].Channel = drogue.Channel
	}
	for _, c := range []struct {
		reason string
		rec    *harness.Record
		want   harness.Answer
		says   string
	}{
		{"measured, as narrow as may be", on(narrow, ms), harness.Pass, "inside the window"},
		{"not measured, and far wider", unmeasured(on(fires, 0), drogue), harness.Pass, "inside the window"},
		{"not measured, and not far wider", unmeasured(on(narrow, 0), drogue), harness.Unsure,
			"but the rig was never measured: its time may be 0.005000 s off, and what is allowed is only 0.040 s wide, less than 8 times that; run drystage rig shed.yaml --measure, or --loopback"},
		{"by a pin in real time", unmeasured(on(narrow, 5*ms), drogue), harness.Unsure, "the rig was never measured"},
		{"another output was not measured", unmeasured(on(narrow, 0), main), harness.Pass, ""},
		{"the same channel of another board", unmeasured(seated(on(narrow, 0)), harness.Channel{Bay: 1, Channel: drogue.Channel}), harness.Pass, ""},
		{"a fail stays one", unmeasured(late, drogue), harness.Fail, "after the window closes"},
		{"a pulse has two edges: 70 ms are not 8 times 10 ms", unmeasured(on(pulse, 0), drogue), harness.Unsure, "0.070 s wide"},
		{"a pulse that is known", on(pulse, 0), harness.Pass, ""},
		{"open at one side, far inside", unmeasured(on(atLeast, 0), drogue), harness.Pass, ""},
		{"open at one side, 9 ms inside", unmeasured(lit(flight(atLeast), drogue, s(5), s(5.509), 0), drogue), harness.Unsure, "its time may be 0.010 s off, and it lies no further inside the limit"},
		{"an order by 9 ms", unmeasured(lit(lit(flight(order), drogue, s(5), s(6), 0), main, s(5.009), s(6), 0), drogue, main), harness.Unsure, "no further inside"},
		{"an order by 9 ms, one of them measured", unmeasured(lit(lit(flight(order), drogue, s(5), s(6), 0), main, s(5.009), s(6), 0), main), harness.Pass, ""},
		{"darkness has no edge", unmeasured(on(never, 0), main), harness.Pass, ""},
	} {
		t.Run(c.reason, func(t *testing.T) {
			f := first(c.rec)
			assert.Equal(t, c.want, f.Answer, f.Reason)
			assert.Contains(t, f.Reason, c.says)
		})
	}
}
