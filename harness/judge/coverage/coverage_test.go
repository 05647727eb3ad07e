package coverage

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/r3"
)

func TestPhase(t *testing.T) {
	for _, c := range []struct {
		reason string
		s      sim.State
		parted bool
		want   Phase
	}{
		{"thrust builds up before liftoff", sim.State{OnPad: true, Thrust: 9}, false, Pad},
		{"the lower motor", sim.State{Thrust: 9, Velocity: r3.Vec{Z: 5}}, false, LowerBoost},
		{"between the motors", sim.State{Velocity: r3.Vec{Z: 5}}, false, LowerCoast},
		{"the upper motor", sim.State{Thrust: 9, Velocity: r3.Vec{Z: 5}}, true, UpperBoost},
		{"a motor that burns downwards is no descent", sim.State{Thrust: 9, Velocity: r3.Vec{Z: -5}}, true, UpperBoost},
		{"to apogee", sim.State{Velocity: r3.Vec{Z: 5}}, true, UpperCoast},
		{"falling, never parted", sim.State{Velocity: r3.Vec{Z: -5}}, false, Descent},
		{"down", sim.State{Landed: true}, true, Landed},
	} {
		assert.Equal(t, c.want, phase(&c.s, c.parted), c.reason)
	}
}

// flown is a record of three ticks and two stages: on the pad, then the upper stage alone, then landed.
func flown(active ...uint64) *harness.Record {
	r := &harness.Record{Times: []sim.Time{0, 2, 4}, Active: active, Events: []sim.Event{{Name: sim.EventSeparation, At: 1}}}
	r.Plan.Setup.Vehicle.Stages = make([]sim.Stage, 2)
	r.Plan.Setup.Bays = []sim.Bay{{Stage: 0}, {Stage: 1}}
	up, down := sim.State{Thrust: 1, Velocity: r3.Vec{Z: 9}}, sim.State{Velocity: r3.Vec{Z: -9}}
	r.States = []sim.State{{OnPad: true}, {OnPad: true}, up, down, {Landed: true}, {Landed: true}}
	r.Plan.Setup.Faults = []sim.Fault{{Kind: sim.Spike, Bay: 0}, {Kind: sim.PowerCut, Bay: 1}, {Kind: sim.EarlyBurnout, Stage: 1}}
	return r
}

func TestTableCountsWhatChangedSomething(t *testing.T) {
	var table Table
	assert.False(t, table.Any(sim.Spike))
	table.Add(flown(0, 0b011, 0b001))
	table.Add(flown(0b001, 0b001, 0b101))
	for _, c := range []struct {
		reason string
		kind   sim.FaultKind
		phase  Phase
		want   int
	}{
		{"in both scenarios", sim.Spike, UpperBoost, 2},
		{"in one of them", sim.Spike, Pad, 1},
		{"by the body of the bay's stage", sim.PowerCut, Descent, 1},
		{"not by another body", sim.PowerCut, UpperBoost, 0},
		{"by the fault's own stage", sim.EarlyBurnout, Landed, 1},
		{"a kind of no scenario", sim.Drift, Pad, 0},
	} {
		assert.Equal(t, c.want, table.Count(c.kind, c.phase), c.reason)
	}
	assert.Equal(t, 2, table.Scenarios)
	assert.True(t, table.Any(sim.PowerCut))
	assert.False(t, table.Any(sim.Drift))
}

func TestOneScenarioCountsOnceAPhase(t *testing.T) {
	r := flown(0b001, 0b001, 0b001)
	r.States[2], r.States[4] = r.States[0], r.States[0] // on the pad all the time
	var table Table
	table.Add(r)
	assert.Equal(t, 1, table.Count(sim.Spike, Pad))
}
