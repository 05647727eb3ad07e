package report

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/judge/dispersion"
)

// A sweep says how its values were spread, and each line that flies a flight again says so, too.
func TestSweepTellsItsPoints(t *testing.T) {
	var b bytes.Buffer
	list := allSweeps()
	list[0].Points = list[1].Points
	require.NoError(t, Sweep(&b, list, options()))
	for _, w := range []string{"points of a scrambled Sobol sequence", "triangular around", "7 V (25 %), 8.4 V (75 %)", "rank correlations: rail.tilt with sustainer.battery -0.5", "--seed 9 --sampling sobol --only "} {
		assert.Contains(t, b.String(), w)
	}
	b.Reset()
	require.NoError(t, Sweep(&b, []*dispersion.Sheet{sweeps()[0]}, options()))
	assert.NotContains(t, b.String(), "--sampling")
}
