package vary

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/sim"
)

func TestFaultNames(t *testing.T) {
	spike, stuck := sim.Fault{Kind: sim.Spike}, sim.Fault{Kind: sim.Stuck}
	for _, c := range []struct {
		faults  []sim.Fault
		without []string
		want    []string
	}{
		{nil, nil, []string{}},
		{[]sim.Fault{spike}, nil, []string{"spike"}},
		{[]sim.Fault{spike, stuck, spike}, nil, []string{"spike.1", "stuck", "spike.2"}},
		{[]sim.Fault{spike}, []string{"spike.1"}, []string{"spike.2"}},
		{[]sim.Fault{spike, spike}, []string{"spike.2", "stuck"}, []string{"spike.1", "spike.3"}},
		{[]sim.Fault{stuck, spike}, []string{"spike.1", "spike.2"}, []string{"stuck", "spike.3"}},
	} {
		assert.Equal(t, c.want, FaultNames(c.faults, c.without))
	}
}

// What is left has the names that it had, and varies and is set as before; leaving out two at once or one after the other is the
// same.
func TestWithout(t *testing.T) {
	p := harness.Plan{
		Setup: sim.Setup{Faults: []sim.Fault{{Kind: sim.Spike, Value: 1}, {Kind: sim.Stuck, Value: 2}, {Kind: sim.Spike, Value: 3}, {Kind: sim.Drift, Value: 4}}},
		Vary: []harness.Vary{
			{Name: "vehicle.drag", What: harness.DragScale, Index: harness.AllStages}, {Name: "spike.1.by", What: harness.FaultBy},
			{Name: "drift.by", What: harness.FaultBy, Index: 3}, {Name: "spike.2.from", What: harness.FaultFrom, Index: 2}, {Name: "booster.mass", What: harness.StageMass, Index: 1},
		},
		Correlated: []harness.Correlated{{Pair: [2]string{"drift.by", "spike.1.by"}}, {Pair: [2]string{"drift.by", "booster.mass"}}},
		Set:        []harness.Value{{Name: "stuck.from", Value: 1}, {Name: "wind.speed", Value: 2}},
	}
	got := Without(&p, []string{"spike.1", "stuck", "unknown"})
	require.Equal(t, []sim.Fault{{Kind: sim.Spike, Value: 3}, {Kind: sim.Drift, Value: 4}}, got.Setup.Faults)
	require.Equal(t, []string{"spike.1", "stuck"}, got.Without)
	require.Equal(t, []string{"spike.2", "drift"}, FaultNames(got.Setup.Faults, got.Without))
	var names []string
	for _, v := range got.Vary {
		names = append(names, v.Name)
		if v.What == harness.FaultBy || v.What == harness.FaultFrom {
			require.Equal(t, v.Name[:5], FaultNames(got.Setup.Faults, got.Without)[v.Index][:5])
		}
	}
	require.Equal(t, []string{"vehicle.drag", "drift.by", "spike.2.from", "booster.mass"}, names)
	require.Equal(t, []harness.Value{{Name: "wind.speed", Value: 2}}, got.Set)
	require.Equal(t, p.Correlated[1:], got.Correlated)
	one := Without(&p, []string{"spike.1"})
	require.Equal(t, got, Without(&one, []string{"stuck"}))
	require.Equal(t, p, Without(&p, nil))
	require.Len(t, p.Setup.Faults, 4, "the given plan stays as it is")
}
