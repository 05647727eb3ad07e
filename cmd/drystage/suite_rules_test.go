package main

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/sim"
)

// ruled says that a plan bounds an output: it stays dark, or it fires once with a pulse of bounded length. A pulse that
// the fault itself cuts short has no length to bound.
func ruled(p *harness.Plan, c harness.Channel, cutShort bool) bool {
	has := func(k harness.ExpectationKind) bool {
		return slices.ContainsFunc(p.Expect, func(e harness.Expectation) bool {
			partly := e.HasFrom || e.HasTo || e.Quantity != 0
			return e.Kind == k && e.Output.Bay == c.Bay && e.Output.Channel == c.Channel && (k != harness.Never || !partly)
		})
	}
	return has(harness.Never) || has(harness.Once) && (cutShort || has(harness.Pulse))
}

// TestEveryPowerFaultBoundsEveryOutput: after a restart an output that fires again, or never ends, is the commonest
// mistake of all, so that every output of a board whose supply fails has its bounds in the scenario.
func TestEveryPowerFaultBoundsEveryOutput(t *testing.T) {
	slow(t)
	found := 0
	for _, p := range shippedPlans(t) {
		for _, f := range p.Setup.Faults {
			if f.Kind.Layer() != sim.OnPower || f.Kind == sim.ClockError {
				continue
			}
			found++
			for _, o := range p.Setup.Bays[f.Bay].Wires {
				c := harness.Channel{Bay: f.Bay, Channel: o.Channel, Name: p.Boards[f.Bay].Role + "." + o.Name}
				assert.True(t, ruled(&p, c, f.From.Event == "output "+c.Name || p.Name == "power-cut"),
					"%s: %s after a fault of the supply has neither `never` nor `once` and `pulse`", p.Name, c.Name)
			}
		}
	}
	assert.Greater(t, found, 6)
}

// TestEverySensorFailsInEveryWay: lost, frozen and wrong, for good and for a while, on the way up.
func TestEverySensorFailsInEveryWay(t *testing.T) {
	slow(t)
	type way struct {
		part    sim.Part
		how     string
		forGood bool
	}
	how := map[sim.FaultKind]string{sim.Dropout: "lost", sim.Stuck: "stuck", sim.Step: "wrong", sim.Drift: "wrong", sim.Scaled: "wrong", sim.Reversed: "wrong",
		sim.Spike: "wrong", sim.NoiseBurst: "wrong", sim.Extreme: "wrong", sim.Clipped: "wrong", sim.Jittered: "wrong", sim.BayLeak: "wrong"}
	seen := map[way]bool{}
	for _, p := range shippedPlans(t) {
		for _, f := range p.Setup.Faults {
			seen[way{f.Part, how[f.Kind], f.Duration == 0}] = true
		}
	}
	for part, name := range map[sim.Part]string{sim.PartAccel: "accelerometer", sim.PartGyro: "gyro", sim.PartBaro: "barometer"} {
		for _, how := range []string{"lost", "stuck", "wrong"} {
			for _, forGood := range []bool{true, false} {
				assert.True(t, seen[way{part, how, forGood}], "no scenario has the %s %s, for good: %v", name, how, forGood)
			}
		}
	}
}

// TestTheStackIsThrownOverEveryWay: a board that works out its tilt from one axis or one sign sees some of these only.
func TestTheStackIsThrownOverEveryWay(t *testing.T) {
	slow(t)
	seen := map[sim.Axis]map[bool]bool{sim.AxisY: {}, sim.AxisZ: {}}
	for _, p := range shippedPlans(t) {
		for _, f := range p.Setup.Faults {
			if f.Kind == sim.TipOff && seen[f.Axis] != nil {
				seen[f.Axis][f.Value > 0] = true
			}
		}
	}
	for axis, signs := range seen {
		assert.Len(t, signs, 2, "about axis %v", axis)
	}
}
