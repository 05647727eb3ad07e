package main

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// TestTheNominalFlightNeedsEachDevice: a board that does all at the right times passes only if what hangs on its
// outputs does its part. One igniter or charge after the other needs a longer pulse than the board gives.
func TestTheNominalFlightNeedsEachDevice(t *testing.T) {
	slow(t)
	plans := shippedPlans(t)
	nominal := plans[slices.IndexFunc(plans, func(p harness.Plan) bool { return p.Name == "nominal" })]
	const long = 5 * sim.Second
	for _, c := range []struct {
		what string
		lame func(stages []sim.Stage)
		want harness.Answer
	}{
		{"nothing", func([]sim.Stage) {}, harness.Pass},
		{"sustainer's motor", func(s []sim.Stage) { s[0].Mount.Igniter.Pulse = long }, harness.Fail},
		{"sustainer's drogue", func(s []sim.Stage) { s[0].Recovery[0].Pulse = long }, harness.Fail},
		{"sustainer's main", func(s []sim.Stage) { s[0].Recovery[1].Pulse = long }, harness.Fail},
		{"booster's main", func(s []sim.Stage) { s[1].Recovery[0].Pulse = long }, harness.Fail},
	} {
		plan := nominal
		plan.Setup.Vehicle.Stages = nil
		for _, s := range nominal.Setup.Vehicle.Stages {
			s.Recovery = slices.Clone(s.Recovery)
			plan.Setup.Vehicle.Stages = append(plan.Setup.Vehicle.Stages, s)
		}
		c.lame(plan.Setup.Vehicle.Stages)
		assert.Equal(t, c.want, verdict.Judge(flyOn(t, plan, "mock")).Answer, "lame: %s", c.what)
	}
}
