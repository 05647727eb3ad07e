package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/coverage"
	"drystage/sim"
)

func TestCoverage(t *testing.T) {
	var b strings.Builder
	require.ErrorIs(t, Coverage(&b, new(coverage.Table)), ErrEmpty, "an empty suite covers nothing")
	rec := &harness.Record{Times: []sim.Time{0}, Active: []uint64{1}, States: []sim.State{{OnPad: true}}}
	rec.Plan.Setup.Vehicle.Stages = make([]sim.Stage, 1)
	rec.Plan.Setup.Bays = make([]sim.Bay, 1)
	rec.Plan.Setup.Faults = []sim.Fault{{Kind: sim.Spike}}
	var table coverage.Table
	table.Add(rec)
	require.NoError(t, Coverage(&b, &table))
	lines := strings.Split(b.String(), "\n")
	assert.Equal(t, strings.Fields("fault pad boost coast upper boost upper coast descent landed"), strings.Fields(lines[0]))
	assert.Equal(t, strings.Fields("spike 1 . . . . . ."), strings.Fields(lines[1]))
	assert.Equal(t, strings.Fields("step . . . . . . ."), strings.Fields(lines[2]))
	assert.Contains(t, b.String(), "1 scenario; a cell counts")
	never := b.String()[strings.Index(b.String(), "never tried: "):]
	assert.NotContains(t, never, "spike")
	assert.Contains(t, never, "step")
}
