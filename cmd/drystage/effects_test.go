package main

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// effects pairs what a flight does to a board, without any fault, with a shipped scenario that has it and a board whose
// mistake only this effect shows: without it, the same flight passes.
var effects = []struct {
	effect, scenario, defect string
	without                  func(*sim.Setup)
}{
	{"shocks of charges and lines", "hard-charges", "landed-on-a-jolt", func(s *sim.Setup) {
		for i := range s.Vehicle.Stages {
			st := &s.Vehicle.Stages[i]
			st.Recovery = slices.Clone(st.Recovery)
			for k := range st.Recovery {
				st.Recovery[k].Shock, st.Recovery[k].Snatch = sim.Pyroshock{}, sim.Snatch{}
			}
		}
	}},
	{"the ground", "restart-landed", "on-its-side-is-flight", func(s *sim.Setup) { s.Vehicle.Site.Ground = sim.Ground{} }},
}

// TestOnlyItsEffectShowsAMistake flies each pair with the effect and without it.
func TestOnlyItsEffectShowsAMistake(t *testing.T) {
	plans := map[string]harness.Plan{}
	for _, p := range shippedPlans(t) {
		plans[p.Name] = p
	}
	for _, e := range effects {
		p, is := plans[e.scenario]
		require.True(t, is, e.scenario)
		answer := func(address string) harness.Answer { return verdict.Judge(flyOn(t, p, address)).Answer }
		assert.Equal(t, harness.Pass, answer("mock"), "%s: the honest board", e.effect)
		assert.Equal(t, harness.Fail, answer("mock:"+e.defect), "%s: a board that is %s", e.effect, e.defect)
		p.Setup.Vehicle.Stages = slices.Clone(p.Setup.Vehicle.Stages)
		e.without(&p.Setup)
		assert.Equal(t, harness.Pass, answer("mock:"+e.defect), "without %s %s is not shown", e.effect, e.defect)
	}
}
