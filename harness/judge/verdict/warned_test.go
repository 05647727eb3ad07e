package verdict_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// A flight outside of its model proves nothing, unless the scenario accepts that by name; warnings about codes or practice
// are only reported.
func TestWarnings(t *testing.T) {
	alpha := sim.Warning{Kind: sim.AngleOfAttack, From: 2 * sim.Second, Until: 3 * sim.Second, Worst: 3.14, Limit: 0.26}
	for _, c := range []struct {
		warned  []sim.Warning
		accepts []sim.WarningKind
		want    harness.Answer
		told    []string
		reason  string
	}{
		{nil, nil, harness.Pass, nil, "nothing to warn of"},
		{[]sim.Warning{alpha}, nil, harness.Unsure, []string{"angle_of_attack: "}, "outside the model"},
		{[]sim.Warning{alpha, alpha}, []sim.WarningKind{sim.AngleOfAttack}, harness.Pass, []string{"angle_of_attack, accepted: ", "angle_of_attack, accepted: "}, "accepted by name"},
		{[]sim.Warning{alpha}, []sim.WarningKind{sim.MachBeyond}, harness.Unsure, []string{"angle_of_attack: ", "mach_beyond is accepted, and never came"}, "another one accepted"},
		{[]sim.Warning{{Kind: sim.HardLanding}, {Kind: sim.RailTilt}, {Kind: sim.LowMargin}, {Kind: sim.SlowExit}, {Kind: sim.ExitAngle}}, nil, harness.Pass, []string{"hard_landing: ", "rail_tilt: ", "low_margin: ", "slow_exit: ", "exit_angle: "}, "codes and practice are told"},
		{[]sim.Warning{{Kind: sim.Unstable}}, nil, harness.Unsure, []string{"unstable: "}, "unstable"},
		{[]sim.Warning{{Kind: sim.CanopySpeed}}, nil, harness.Unsure, []string{"canopy_speed: "}, "a canopy opened too fast"},
		{[]sim.Warning{{Kind: sim.AirBeyond}}, nil, harness.Unsure, []string{"air_beyond: "}, "beyond the air"},
		{[]sim.Warning{{Kind: sim.LoadsSoftened}}, nil, harness.Unsure, []string{"loads_softened: "}, "softened loads"},
		{[]sim.Warning{{Kind: sim.MachBeyond}}, nil, harness.Unsure, []string{"mach_beyond: "}, "too fast for the drag"},
		{[]sim.Warning{{Kind: sim.ErrorBeyond}}, nil, harness.Unsure, []string{"error_beyond: "}, "the integrator"},
		{[]sim.Warning{{Kind: 200, Stage: 99}}, nil, harness.Unsure, []string{": "}, "of a kind that nobody knows"},
	} {
		rec := flight(never())
		rec.Warnings, rec.Plan.Accepts = c.warned, c.accepts
		v := verdict.Judge(rec)
		assert.Equal(t, c.want, v.Answer, c.reason)
		var told []string
		for i := range v.Warned {
			told = append(told, v.Warned[i].String())
		}
		if assert.Len(t, told, len(c.told), c.reason) {
			for i := range told {
				assert.Contains(t, told[i], c.told[i], c.reason)
			}
		}
	}
}

func TestWarningSaysWhoAndWhen(t *testing.T) {
	rec := flight(never())
	rec.Warnings = []sim.Warning{{Kind: sim.CanopySpeed, From: 3 * sim.Second, Until: 3 * sim.Second, Worst: 90, Limit: 60}}
	rec.Events = slices.Insert(rec.Events, 1, sim.Event{Name: sim.EventRailExit, At: sim.Second})
	v := verdict.Judge(rec)
	f := v.Findings[len(v.Findings)-1]
	assert.Contains(t, f.Reason, rec.Plan.Setup.Vehicle.Stages[0].Name+", at 3.000 s: a recovery device opens at more than its rated speed")
	assert.Contains(t, f.Reason, "90.0 m/s, limit 60.0 m/s")
	assert.Contains(t, f.Reason, "`accepts: [canopy_speed]`")
}
