package scenario_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"

	"drystage/harness/files/scenario"
)

// Of a log only times are known.
func TestWhatAScenarioWithALogMayNotHave(t *testing.T) {
	const (
		head = "drystage: scenario\ntitle: x\nvehicle: vehicle.yaml\n"
		one  = "boards: {sustainer: {file: sustainer.yaml, stage: sustainer}}\n"
		two  = "boards: {sustainer: {file: sustainer.yaml, stage: sustainer}, booster: {file: booster.yaml}}\n"
		log  = "log: {file: flight.csv}\n"
		hint = "; the simulated flight of the scenario without `log` knows more"
	)
	for _, row := range []struct{ text, want, reason string }{
		{one + log + "expect: [{fires: sustainer.drogue, from: apogee - 1 s, to: apogee + 1 s}]\n", "", "times are known"},
		{two + log + "expect: [{alive: sustainer}]\n", "x.yaml:5:6: found a log and 2 boards, wanted one board, which is given what the log says" + hint, "there is one log"},
		{one + log + "faults: [{igniter_dead: sustainer}]\nexpect: [{alive: sustainer}]\n", "x.yaml:5:6: found a log and faults, wanted a log as it is" + hint, "a flight that was flown has no more faults"},
		{one + log + "vary: [{of: rail.tilt, between: [1 deg, 2 deg]}]\nexpect: [{alive: sustainer}]\n", "x.yaml:6:7: found values that differ beside a \"log\", wanted one of them; a flight that was flown can't differ any more", "nor another rail"},
		{one + log + "expect: [{firing: sustainer.drogue, quantity: tilt, at_most: 20 deg}]\n", "x.yaml:6:10: found sustainer tilt at most 20 deg when sustainer.drogue fires, wanted times only, since a log does not tell the vehicle's state" + hint, "at a firing"},
		{one + log + "expect: [{event: landing, quantity: descent, at_most: 9 m/s}]\n", "x.yaml:6:10: found sustainer descent at most 9 m/s at landing, wanted times only", "at an event"},
		{one + log + "expect: [{report: apogee_height, board: sustainer, within: 25 m}]\n", "x.yaml:6:10: found sustainer reports the apogee height within 25 m, wanted times only", "nor the true height"},
		{one + log + "expect: [{never: sustainer.ignite, while: tilt above 20 deg}]\n", "x.yaml:6:10: found sustainer.ignite never fires while sustainer tilt above 20 deg, wanted times only", "nor the tilt meanwhile"},
		{one + log + "expect: [{fires: sustainer.main, from: height falling through 200 m, to: landing}]\n", "x.yaml:6:10: found a log, and \"sustainer height falling through 200 m\", wanted events that are found in logs", "a crossing"},
		{one + "log: {file: recorded.csv}\nexpect: [{alive: sustainer}]\n", "x.yaml:5:13: found recorded.csv: no such file, wanted a file that can be read; paths are relative to the file they stand in, with / between folders", "a file that there is not"},
		{one + "log: {file: /flight.csv}\nexpect: [{alive: sustainer}]\n", "x.yaml:5:13: found \"/flight.csv\", wanted a path relative to this file", "a path from the root"},
	} {
		tree := goodTree(t)
		tree["flight.csv"] = &fstest.MapFile{Data: []byte("time,x\n")}
		tree["x.yaml"] = &fstest.MapFile{Data: []byte(head + row.text)}
		found := scenario.Lint(tree, "x.yaml")
		if row.want == "" {
			assert.Empty(t, found, row.reason)
			continue
		}
		if assert.Len(t, found, 1, "%s\n%s", row.reason, all(found)) {
			assert.Contains(t, found[0].Error(), row.want, row.reason)
		}
	}
}
