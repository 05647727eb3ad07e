package scenario_test

import (
	"slices"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/files/scenario"
	"drystage/sim"
)

// What a scenario waits for is held against the events of a rehearsal, which is given here: the flight has the events
// named, and no others.
func TestUnreached(t *testing.T) {
	const head = "drystage: scenario\ntitle: x\nvehicle: vehicle.yaml\nboards: {sustainer: {file: sustainer.yaml, stage: sustainer}}\n"
	usual := []string{"launch", "liftoff", "apogee", "landing", "booster.burnout", "booster.apogee", "sustainer height falling through 152.4 m"}
	for _, row := range []struct {
		text   string
		events []string
		want   []string
		reason string
	}{
		{"expect: [{alive: sustainer}]\n", usual, nil, "what the vehicle's file and the defaults wait for comes"},
		{"expect: [{alive: sustainer}]\n", usual[:5], []string{
			`vehicle.yaml:39:43: found warning: "booster.apogee", which never comes`,
			`vehicle.yaml:26:74: found warning: "sustainer height falling through 152.4 m", which never comes`,
		}, "the vehicle's own anchors count"},
		{"expect: [{happens: rail_exit}]\n", usual, []string{`x.yaml:5:20: found warning: "rail_exit", which never comes`}, "an event"},
		{"expect: [{happens: output sustainer.drogue}]\n", usual, nil, "a board may bring it, which no rehearsal has"},
		{"expect: [{never: sustainer.ignite, while: mach above 3}]\n", usual, []string{
			"x.yaml:5:43: found warning: sustainer mach above 3, which it never is, wanted what comes in the flight as it is meant; only a fault or a board could bring it",
		}, "a bound that is never crossed"},
		{"expect: [{never: sustainer.ignite, while: mach above 3}]\n", append(slices.Clone(usual), "bound 0 mach false 3"), nil, "a bound that is crossed upwards"},
		{"expect: [{never: sustainer.ignite, while: mach below 3}]\n", usual, nil, "out of bounds on the pad already"},
		{"expect: [{never: sustainer.ignite, while: tilt above 2 deg}]\n", usual, nil, "the rail leans by 3 degrees"},
		{"expect: [{never: sustainer.ignite, while: tilt above 4 deg}]\n", usual, []string{"x.yaml:5:43: found warning: sustainer tilt above 4 deg, which it never is"}, "and no more"},
		{"expect: [{alive: upper}]\n", nil, nil, "a scenario with findings has no warnings"},
	} {
		tree := goodTree(t)
		tree["x.yaml"] = &fstest.MapFile{Data: []byte(head + row.text)}
		found := scenario.Unreached(tree, "x.yaml", func(*sim.Setup) (list []sim.Event) {
			for _, name := range row.events {
				list = append(list, sim.Event{Name: name})
			}
			return list
		})
		if !assert.Len(t, found, len(row.want), "%s\n%s", row.reason, all(found)) {
			continue
		}
		for _, want := range row.want {
			assert.Contains(t, all(found), want, row.reason)
		}
	}
}

func TestLoadVehicleHasTheCrossingsOfItsFile(t *testing.T) {
	v, crossings, problems := scenario.LoadVehicle(goodTree(t), "vehicle.yaml")
	require.Empty(t, problems)
	assert.Equal(t, "Teal", v.Name)
	assert.Equal(t, []sim.Crossing{{Name: "sustainer height falling through 152.4 m", Quantity: sim.Height, Falling: true, Value: 152.4}}, crossings)
	_, _, problems = scenario.LoadVehicle(goodTree(t), "full.yaml")
	require.Len(t, problems, 1)
	assert.Contains(t, problems[0].Error(), "full.yaml:2:11: found drystage: \"scenario\", wanted `drystage: vehicle` as the first key")
}
