package rig

import (
	"math"
	"testing"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
)

func TestLoadsMustBeDeclared(t *testing.T) {
	plan := &harness.Plan{Boards: []harness.Board{{Role: "sustainer"}}}
	wires := func(names ...string) {
		plan.Setup.Bays = []sim.Bay{{}}
		for _, n := range names {
			plan.Setup.Bays[0].Wires = append(plan.Setup.Bays[0].Wires, sim.Wire{Name: n})
		}
	}
	s := spec()
	wires("ignite", "drogue", "lamp")
	assert.NoError(t, CheckLoads(&s, plan))
	wires("ignite", "main")
	err := CheckLoads(&s, plan)
	assert.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "output sustainer.main has no dummy load declared; add it to the board's outputs")
	s.Boards[0].Outputs[0].Load = harness.Load{}
	err = CheckLoads(&s, plan)
	assert.ErrorContains(t, err, "output sustainer.ignite has no dummy load declared; add `load:")
	assert.ErrorContains(t, err, "sustainer.main", "all at once")
	plan.Boards[0].Role = "booster"
	assert.ErrorContains(t, CheckLoads(&s, plan), "no board booster on this rig")
}

func TestReadingsMustFitTheLoads(t *testing.T) {
	b := &harness.RigBoard{Role: "sustainer", Outputs: []harness.RigOutput{
		{Name: "ignite", Load: harness.Load{Kind: "resistor", Ohm: 10, Tolerance: 0.2}},
		{Name: "lamp", Load: harness.Load{Kind: "lamp", Ohm: 24, Tolerance: 0.9}},
		{Name: "horn", Load: harness.Load{Kind: "open"}},
	}}
	for _, c := range []struct {
		reason, output string
		ohm            float64
		want           string // "" is fine
	}{
		{"as declared", "ignite", 10, ""},
		{"at the lower edge", "ignite", 8, ""},
		{"at the upper edge", "ignite", 12, ""},
		{"below", "ignite", 7.9, "measures 7.9 ohm, and the rig declares a resistor 10 ohm ±20 %"},
		{"above", "ignite", 12.1, "and the rig declares a resistor"},
		{"nothing there", "ignite", math.Inf(1), "measures an open circuit, and the rig declares"},
		{"a match at its least", "ignite", 0.5, "looks like an electric match (0.5 to 3 ohm)"},
		{"a match at its most", "ignite", 3, "looks like an electric match"},
		{"just below a match is a short, not the load", "ignite", 0.49, "and the rig declares"},
		{"a match within a wide tolerance is still a match", "lamp", 2.8, "looks like an electric match"},
		{"a cold lamp", "lamp", 3.1, ""},
		{"open as declared", "horn", math.Inf(1), ""},
		{"leaking, open all the same", "horn", 150e3, ""},
		{"something on an open output", "horn", 10, "and the rig declares it open"},
		{"not a number", "ignite", math.NaN(), "which is no resistance"},
		{"below zero", "ignite", -1, "which is no resistance"},
		{"an output nobody declared", "main", 10, "the board measures 10 ohm, and the rig declares nothing there"},
	} {
		err := CheckReadings(b, []Reading{{c.output, c.ohm}})
		if c.want == "" {
			assert.NoError(t, err, c.reason)
			continue
		}
		assert.ErrorIs(t, err, ErrRefused, c.reason)
		assert.ErrorContains(t, err, c.want, c.reason)
	}
	assert.Equal(t, Reading{"x", 1.2}, ReadingOf("x", 1200))
	assert.Equal(t, Reading{"x", math.Inf(1)}, ReadingOf("x", contract.OpenCircuit))
}
