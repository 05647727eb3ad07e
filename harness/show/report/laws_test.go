package report

import (
	"bytes"
	"encoding/csv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/judge/dispersion"
	"drystage/sim"
)

// A sweep says how its values were spread, and each line that flies a flight again says so, too.
func TestSweepTellsItsPoints(t *testing.T) {
	var b bytes.Buffer
	list := allSweeps()
	list[0].Points = list[1].Points
	require.NoError(t, Sweep(&b, list, options()))
	for _, w := range []string{"points of a scrambled Sobol sequence", "triangular around", "7 V (25 %), 8.4 V (75 %)", "rank correlations: rail.tilt with sustainer.battery -0.5", "--seed 9 --sampling sobol --only ", "index: wind.speed: alone", "weather.temperature: alone 0.00", "seed: alone 0.00 +- 0.00",
		"rare    a flight doesn't meet: sustainer stays alive, with probability 1.2e-05", "95 % interval 5e-06 to", "level 1: 10.0 %", "{like: calm.yaml, seed: 77,"} {
		assert.Contains(t, b.String(), w)
	}
	b.Reset()
	require.NoError(t, Sweep(&b, []*dispersion.Sheet{sweeps()[0]}, options()))
	assert.NotContains(t, b.String(), "--sampling")
}

// The table of samples has a row a flight, and a cell is empty where nothing could be measured.
func TestSamples(t *testing.T) {
	s := sweeps()[0]
	s.Plan.Setup.Vehicle.Stages = []sim.Stage{{Name: "sustainer"}}
	s.Flights[1].Landed = []dispersion.Place{{East: 1.5, North: -2, OK: true}}
	var b bytes.Buffer
	require.NoError(t, Samples(&b, s))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 61)
	assert.Equal(t, []string{"flight", "seed", "answer", "wind.speed [m/s]", "weather.temperature [K]", "answer 1", "margin 1 [s]", "answer 2", "margin 2", "sustainer east [m]", "sustainer north [m]"}, rows[0])
	assert.Equal(t, []string{"2", "2", "pass"}, rows[2][:3])
	assert.Equal(t, []string{"pass", "", "1.5", "-2"}, rows[2][7:])
	assert.Equal(t, []string{"", ""}, rows[1][9:])
}
