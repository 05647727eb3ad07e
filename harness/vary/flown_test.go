package vary_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/vary"
	"drystage/scenarios"
	"drystage/sim"
	"drystage/sim/world"
)

// A changed parameter changes the flight in the right direction and, in simple cases, by the right amount.
func TestValuesAreFlown(t *testing.T) {
	plan, problems := scenario.Load(scenarios.Files, "launch-day.yaml")
	require.Empty(t, problems)
	at := func(values ...harness.Value) func(string) sim.Time {
		p := vary.Apply(&plan, plan.Vary, values)
		require.Len(t, p.Set, len(values))
		events := world.Rehearse(&p.Setup)
		return func(name string) sim.Time {
			for _, e := range events {
				if e.Name == name {
					return e.At
				}
			}
			t.Fatalf("no %s with %v", name, values)
			return 0
		}
	}
	value := func(name string, x float64) harness.Value { return harness.Value{Name: name, Value: x} }
	base := at()
	burn := func(of func(string) sim.Time, stage string) float64 {
		return (of(stage+".burnout") - of(stage+".ignition")).Seconds()
	}

	for _, row := range []struct {
		name, event string
		x           float64
		later       bool
		reason      string
	}{
		{"sustainer.mass", "apogee", 0.7, false, "a heavier sustainer coasts less high"},
		{"booster.mass", "liftoff", 0.7, true, "a heavier stack needs more thrust to move"},
		{"vehicle.drag", "apogee", 1.3, false, "drag ends the climb"},
		{"booster.impulse", "apogee", 1.1, true, "more impulse carries it higher"},
		{"rail.tilt", "apogee", 0.3, false, "a flight that leans is over sooner"},
		{"weather.temperature", "apogee", 313.15, true, "warm air is thin: less drag"},
		{"weather.pressure", "apogee", 105000, false, "dense air: more drag"},
	} {
		got := at(value(row.name, row.x))(row.event)
		assert.Equal(t, row.later, got > base(row.event), "%s: %s at %s, %s as written", row.reason, row.event, got, base(row.event))
		assert.NotEqual(t, base(row.event), got, row.reason)
	}

	assert.InDelta(t, 1.1*burn(base, "booster"), burn(at(value("booster.burn_time", 1.1)), "booster"), 2e-9, "a nanosecond for each corner")
	was := plan.Setup.Vehicle.Stages[0].Mount.Igniter.Delay
	late := vary.Apply(&plan, plan.Vary, []harness.Value{value("sustainer.igniter_delay", 0.4)})
	assert.Equal(t, 400*sim.Millisecond-was, lit(t, &late)-lit(t, &plan), "scatter is the same: the seed is")
	assert.Equal(t, base("apogee"), at(value("sustainer.battery", 7.3))("apogee"), "a battery flies nowhere")
}

// lit flies a plan whose board only fires its first output at 10 s, and gives the time of ignition.
func lit(t *testing.T, p *harness.Plan) sim.Time {
	w := world.New(&p.Setup)
	var outs []sim.Output
	for {
		tick, more := w.Step(outs)
		if outs = nil; tick.Now >= 10*sim.Second {
			outs = []sim.Output{{Bay: 0, Channel: 1, On: true, At: tick.Now}}
		}
		for _, e := range tick.Events {
			if e.Name == "sustainer.ignition" {
				return e.At
			}
		}
		require.True(t, more, "it never lit")
	}
}
