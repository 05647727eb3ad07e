package world

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
)

// The warnings of a flight with boards and faults come with its ticks.
func TestTicksCarryTheWarningsOfTheFlownWorld(t *testing.T) {
	for _, c := range []struct {
		reason string
		change func(*sim.Setup)
		want   sim.WarningKind
	}{
		{"as it is meant", func(*sim.Setup) {}, sim.NoWarning},
		{"fins of no use", func(s *sim.Setup) {
			for i := range s.Vehicle.Stages {
				s.Vehicle.Stages[i].Fins = nil
			}
		}, sim.Unstable},
		{"a fault opens the main under thrust", func(s *sim.Setup) {
			s.Faults = []sim.Fault{{Kind: sim.DeviceEarly, Stage: 0, Device: 1, From: sim.Anchor{Event: "booster.burnout"}}}
		}, sim.CanopySpeed},
	} {
		s := heron()
		s.Until = sim.Anchor{Event: "booster.burnout", Offset: sim.Second}
		c.change(s)
		w := New(s)
		var last []sim.Warning
		for ok := true; ok; {
			var tick *sim.Tick
			tick, ok = w.Step(nil)
			last = append(last[:0], tick.Warnings...)
		}
		if c.want == sim.NoWarning {
			assert.Empty(t, last, c.reason)
			continue
		}
		assert.True(t, slices.ContainsFunc(last, func(w sim.Warning) bool { return w.Kind == c.want }), "%s: %v", c.reason, last)
	}
}
