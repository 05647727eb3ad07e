package sim_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
)

func TestAnchorAsFilesHaveIt(t *testing.T) {
	for _, row := range []struct {
		anchor sim.Anchor
		want   string
		reason string
	}{
		{sim.Anchor{}, "start", "the empty event is the start"},
		{sim.Anchor{Offset: 3 * sim.Second}, "start + 3 s", "and so with a span"},
		{sim.Anchor{Event: "apogee"}, "apogee", "no span"},
		{sim.Anchor{Event: "apogee", Offset: -500 * sim.Millisecond}, "apogee - 0.5 s", "before it"},
		{sim.Anchor{Event: "booster.burnout", Offset: 1}, "booster.burnout + 0.000000001 s", "nothing is lost"},
		{sim.Anchor{Event: "apogee", Offset: math.MinInt64}, "apogee - 9223372036.854776 s", "no other sign"},
	} {
		assert.Equal(t, row.want, row.anchor.String(), row.reason)
	}
}
