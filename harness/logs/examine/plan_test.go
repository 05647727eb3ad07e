package examine

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAgainstThePlan: a rocket whose canopies are a tenth of what its file says lands harder than planned, and
// that is told with the right speed; the one as planned is not remarked on.
func TestAgainstThePlan(t *testing.T) {
	said := draggy(t, 0.5)
	torn := said
	torn.Vehicle.Stages = slices.Clone(said.Vehicle.Stages)
	torn.Vehicle.Stages[0].Recovery = slices.Clone(said.Vehicle.Stages[0].Recovery)
	for i := range torn.Vehicle.Stages[0].Recovery {
		torn.Vehicle.Stages[0].Recovery[i].Area *= 0.1
	}
	f, g := fly(torn), fly(said)
	down := -f.states[len(f.states)-1].Velocity.Z
	for i, s := range f.states {
		if at, ok := happened(f.events, "sustainer.landing"); ok && f.times[i] < at {
			down = -s.Velocity.Z
		}
	}
	r, err := Examine(f.log(t, 3), Options{Setup: &said})
	require.NoError(t, err)
	assert.InDelta(t, down, r.Touchdown.Speed, 0.5)
	assert.True(t, slices.ContainsFunc(r.Plan, func(s string) bool { return strings.HasPrefix(s, "it lands at") }), r.Plan)
	r, err = Examine(g.log(t, 3), Options{Setup: &said})
	require.NoError(t, err)
	assert.Empty(t, r.Plan)
}
