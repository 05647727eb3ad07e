package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSeatsThatNobodyTakes: an argument of --board that no board uses is wrong use in every command that has it,
// since the built-in board would fly, and pass, in its place.
func TestSeatsThatNobodyTakes(t *testing.T) {
	slow(t)
	t.Chdir(t.TempDir())
	status, _, errs := do(t, "fly", "scenarios/vehicles/dunlin.yaml", "--csv", "flight.csv")
	require.Equal(t, passed, status, errs)
	commands := []string{
		"bench -q scenarios/nominal.yaml", "sweep -q --flights 1 scenarios/launch-day.yaml", "hunt -q --flights 1 scenarios/launch-day.yaml",
		"replay scenarios/nominal.yaml", "rig scenarios/rigs/simulated.yaml --measure", "bench -q --rig scenarios/rigs/simulated.yaml scenarios/nominal.yaml",
	}
	for _, row := range []struct{ reason, boards, says string }{
		{"a role misspelt", "--board sustaner=exec:false", `found no board sustaner, wanted one of`},
		{"the nearest one", "--board Boster=exec:false", `did you mean "booster"?`},
		{"a role twice", "--board sustainer=exec:false --board sustainer=mock", "two boards for sustainer: exec:false and mock"},
		{"the same twice", "--board sustainer=mock --board sustainer=mock", "two boards for sustainer"},
		{"no address", "--board sustainer=", `address "" has an unknown kind`},
		{"all twice", "--board mock --board exec:false", "two boards for every role: mock and exec:false"},
		{"all twice, the built-in last", "--board exec:false --board mock", "two boards for every role"},
		{"all beside each", "--board exec:false --board sustainer=mock --board booster=mock", "--board exec:false is used by no board"},
	} {
		for _, c := range commands {
			status, out, errs := do(t, strings.Fields(c+" "+row.boards)...)
			require.Equal(t, misused, status, "%s: %s", c, row.reason)
			require.Contains(t, errs, row.says, "%s: %s", c, row.reason)
			require.Empty(t, out, "nothing was flown")
		}
	}
	for _, c := range []string{
		"contract --board sustainer=mock", "replay scenarios/nominal.yaml --board log=mock",
		"contract --rig scenarios/rigs/simulated.yaml --role booster --board sustainer=mock",
	} {
		status, _, errs := do(t, strings.Fields(c)...)
		require.Equal(t, misused, status, c)
		require.Contains(t, errs, "found no board ", c)
	}
}

// TestReportsNameTheBoards: the first lines say where the board of each role was.
func TestReportsNameTheBoards(t *testing.T) {
	slow(t)
	t.Chdir(t.TempDir())
	two := "sustainer  mock:ignores-tilt\nbooster    mock\n"
	for _, args := range []string{
		"bench -q --out flown scenarios/nominal.yaml --board sustainer=mock:ignores-tilt",
		"show flown/nominal.record",
		"bench -q --repeat 1 --until-fail scenarios/nominal.yaml --board sustainer=mock:ignores-tilt",
		"sweep -q --flights 1 scenarios/launch-day.yaml --board sustainer=mock:ignores-tilt",
		"hunt -q --flights 1 scenarios/launch-day.yaml --board sustainer=mock:ignores-tilt",
	} {
		_, out, errs := do(t, strings.Fields(args)...)
		require.Equal(t, two, out[:min(len(out), len(two))], "%s: %s%s", args, out, errs)
		for _, format := range []string{"json", "junit"} {
			status, out, errs := do(t, append(strings.Fields(args), "--format", format)...)
			if status == misused { // this command has no such format
				continue
			}
			require.Contains(t, out, "mock:ignores-tilt", "%s %s: %s", args, format, errs)
			if format == "json" {
				require.Contains(t, out, "\"role\": \"sustainer\",\n", args)
			} else {
				require.Contains(t, out, `<property name="board" value="sustainer mock:ignores-tilt"></property>`, args)
			}
		}
	}
	_, out, _ := do(t, "contract", "-q", "--board", "mock")
	require.True(t, strings.HasPrefix(out, "board  mock\n"), out)
}
