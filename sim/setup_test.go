package sim_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
)

// TestNeedsRehearsal: only what happens before an event needs to know the event's time in advance.
func TestNeedsRehearsal(t *testing.T) {
	before, after := sim.Anchor{Event: sim.EventApogee, Offset: -1}, sim.Anchor{Event: sim.EventApogee, Offset: 1}
	for reason, c := range map[string]struct {
		setup sim.Setup
		want  bool
	}{
		"nothing":                {sim.Setup{}, false},
		"a fault after":          {sim.Setup{Faults: []sim.Fault{{From: after}}}, false},
		"a fault before":         {sim.Setup{Faults: []sim.Fault{{From: after}, {From: before}}}, true},
		"a command after":        {sim.Setup{Commands: []sim.Command{{At: after}}}, false},
		"a command before":       {sim.Setup{Commands: []sim.Command{{At: before}}}, true},
		"the end, counted after": {sim.Setup{Until: after}, false},
	} {
		assert.Equal(t, c.want, c.setup.NeedsRehearsal(), reason)
	}
}
