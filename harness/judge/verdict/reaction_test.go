package verdict_test

import (
	"cmp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/sim"
)

// A command at 10 s and an event, apogee, at 10 s; ticks of 10 ms whose edges count as 6 ms uncertain.
func TestReaction(t *testing.T) {
	const within = 6 * ms
	for _, c := range []struct {
		reason  string
		event   string
		off     bool
		limit   float64
		on, end sim.Time // of the output; 0: never
		cut     sim.Time
		want    harness.Answer
		says    string
	}{
		{"in the tick of the command", "command stage", false, 0.008, s(10), 0, 0, harness.Pass, "took 0.000 s"},
		{"one tick late is late by a number", "command stage", false, 0.008, s(10.01), 0, 0, harness.Fail, "took 0.010 s"},
		{"late by a log call", "command stage", false, 0.1, s(10.3), 0, 0, harness.Fail, "took 0.300 s"},
		{"an event between ticks: its edge is as uncertain as any", "apogee", false, 0.02, s(10.01), 0, 0, harness.Pass, ""},
		{"too near to tell which came first", "apogee", false, 0.02, s(10.005), 0, 0, harness.Unsure, "may have switched before it"},
		{"too near to tell", "apogee", false, 0.008, s(10.01), 0, 0, harness.Unsure, "too near"},
		{"late after an event", "apogee", false, 0.008, s(10.02), 0, 0, harness.Fail, ""},
		{"before its cause", "command stage", false, 0.1, s(9.9), s(10.5), 0, harness.Fail, "had switched on before"},
		{"before its cause, and again after it", "command stage", false, 0.1, s(9.9), s(9.95), 0, harness.Fail, "had switched on before"},
		{"before its cause, and the run ends too early", "command stage", false, 5, s(9.9), s(9.95), s(12), harness.Unsure, "had switched on before"},
		{"never", "command stage", false, 0.1, 0, 0, 0, harness.Fail, "did not go on"},
		{"the run ends too early", "command stage", false, 5, 0, 0, s(12), harness.Unsure, "did not go on"},
		{"no cause", "command disarm", false, 0.1, s(10), 0, 0, harness.Unsure, "nothing to react to"},
		{"off at once", "command stage", true, 0.008, s(9.5), s(10), 0, harness.Pass, "took 0.000 s"},
		{"off one tick late", "command stage", true, 0.008, s(9.5), s(10.01), 0, harness.Fail, "took 0.010 s"},
		{"never off", "command stage", true, 0.008, s(9.5), 0, 0, harness.Fail, "did not go off"},
		{"off before", "command stage", true, 0.008, s(9.5), s(9.6), 0, harness.Unsure, "was not on"},
		{"on only afterwards", "command stage", true, 0.008, s(10.5), s(10.6), 0, harness.Unsure, "was not on"},
	} {
		rec := flight(harness.Expectation{Kind: harness.Reaction, Text: "it reacts", Output: drogue, Event: c.event, Off: c.off, Most: c.limit, HasMost: true})
		commanded(rec)
		if c.on != 0 {
			lit(rec, drogue, c.on, c.end, within)
		}
		if c.cut != 0 {
			cut(rec, c.cut)
		}
		f := first(rec)
		assert.Equal(t, c.want, f.Answer, "%s: %s", c.reason, f.Reason)
		assert.Contains(t, f.Reason, c.says, c.reason)
	}
}

// In real time, or with a pin, a command's edge is as uncertain as any other.
func TestReactionWithoutTicks(t *testing.T) {
	rec := flight(harness.Expectation{Kind: harness.Reaction, Text: "it reacts", Output: drogue, Event: "command stage", Most: 0.008, HasMost: true})
	commanded(rec)
	lit(rec, drogue, s(10.005), 0, 6*ms)
	assert.Equal(t, harness.Pass, first(rec).Answer)
	rec.Outputs[0].Basis = harness.ByPin
	assert.Equal(t, harness.Unsure, first(rec).Answer)
	rec.Outputs[0].Within = 2 * ms
	assert.Equal(t, harness.Pass, first(rec).Answer)
}

// commanded gives the command to stage at 10 s.
func commanded(rec *harness.Record) {
	rec.Plan.Setup.Marks = []sim.Mark{{Name: "command stage", Command: sim.CommandStage}}
	rec.Events = append(rec.Events, sim.Event{Name: "command stage", At: s(10)})
	slices.SortFunc(rec.Events, func(a, b sim.Event) int { return cmp.Compare(a.At, b.At) })
}
