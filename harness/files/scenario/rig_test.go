package scenario_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/sim"
)

func TestRigInSI(t *testing.T) {
	r, found := scenario.LoadRig(os.DirFS("testdata"), "good/rig.yaml")
	require.Empty(t, found)
	const us, ms = sim.Microsecond, sim.Millisecond
	assert.Equal(t, "good/rig.yaml", r.File)
	assert.Len(t, r.Digest, 64)
	assert.True(t, r.Simulated)
	assert.Equal(t, "shed", r.State)
	assert.Equal(t, 8*ms, r.Default)
	assert.Equal(t, 86400*sim.Second, r.Lasts)
	b := r.Board("sustainer")
	require.NotNil(t, b)
	assert.Equal(t, "serial:usb=1209:abcd", b.Address)
	o := b.Output("ignite")
	assert.Equal(t, harness.Load{Kind: "resistor", Ohm: 10, Tolerance: 0.05}, o.Load)
	assert.Equal(t, harness.Pin{Name: "GPIO17", ActiveLow: true, Pull: harness.PullUp, Debounce: 2 * ms, Wired: "opto 1", Delay: 20 * us, Within: 10 * us}, o.Capture)
	assert.Equal(t, harness.Load{}, b.Output("horn").Load, "undeclared")
	assert.Equal(t, "open", b.Output("lamp").Load.Kind)
	assert.Nil(t, b.Output("siren"))
	assert.Nil(t, r.Board("booster"))
	var kinds []string
	safe := map[string]bool{}
	for _, d := range r.Drives {
		kinds = append(kinds, d.Does.String())
		safe[d.Label] = d.SafeOn
	}
	assert.Equal(t, []string{"power", "arming", "separation breakwire", "liftoff breakwire", "reset", "loopback", "wire", "short"}, kinds)
	assert.Equal(t, map[string]bool{"supply": false, "arm": false, "wire": true, "rod": false, "hold": false, "probe": false, "tie": true, "bridge": false}, safe)
	assert.Equal(t, "5", r.Drives[0].Name, "a bare number names a pin too")
	assert.Equal(t, "ignite", r.Drives[5].Output)
}

func TestLoadRigGivesAllFindingsOrARig(t *testing.T) {
	r, found := scenario.LoadRig(os.DirFS("testdata"), "wrong/rig-many.yaml")
	assert.Zero(t, r)
	assert.Len(t, found, 8)
	_, found = scenario.LoadRig(os.DirFS("testdata"), "good/full.yaml")
	require.Len(t, found, 1)
	assert.Contains(t, found[0].Error(), "wanted `drystage: rig` as the first key")
}
