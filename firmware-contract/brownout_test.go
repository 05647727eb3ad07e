//go:build linux

package firmwarecontract

import (
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestBrownOut lets the emulated AVR's supply dip while it is armed, with nobody asking. The board tells of
// it, has counted the start in its EEPROM, and goes on armed: that is there as well.
func TestBrownOut(t *testing.T) {
	p := ports[1]
	dir := p.build(t)
	socket := filepath.Join(t.TempDir(), "line")
	bridge := exec.CommandContext(t.Context(), dir+"/bridge", "--listen="+socket, dir+"/board-avr.elf")
	require.NoError(t, bridge.Start())
	defer func() { _ = bridge.Wait() }()
	defer func() { _ = bridge.Process.Kill() }()
	var l link.Link
	require.Eventually(t, func() (ok bool) {
		x, err := link.Open(t.Context(), "unix:"+socket, link.Options{})
		l = x
		return err == nil
	}, 10*time.Second, 10*time.Millisecond)
	bay := sim.Bay{Sensors: sim.Sensors{Baro: sim.Barometer{Rate: 50}}}
	c := board.NewClient(l, harness.Board{Role: "sustainer"}, &bay, board.Options{Timeout: 10 * time.Second})
	defer c.Close()

	var r harness.Reply
	logs := map[int][]string{}
	step := func(k int) {
		f := sim.Frame{Now: sim.Time(k) * 20 * sim.Millisecond, Due: true, Powered: true, Has: sim.HasBaro, Temperature: 288}
		f.Pressure = 95000 + float64(k%3)
		switch k {
		case 20:
			f.Commands = sim.CommandArm
		case 62:
			f.Commands = sim.CommandDisarm
		}
		r.Reset()
		require.NoError(t, c.Exchange(t.Context(), &f, &r), "step %d", k)
		for _, x := range r.Logs {
			logs[k] = append(logs[k], x.Text)
		}
	}
	for k := range 60 {
		step(k)
	}
	require.Equal(t, map[int][]string{20: {"armed"}}, logs)
	require.Equal(t, harness.Health{Name: "reference-avr", Boots: 1, RoundTrips: 60, Reports: c.Health().Reports, Answers: c.Health().Answers}, c.Health())
	require.NoError(t, bridge.Process.Signal(syscall.SIGUSR1))
	for k := 60; k < 63; k++ {
		step(k)
	}
	h := c.Health()
	assert.Equal(t, 1, h.Unasked)
	assert.Equal(t, 2, h.Boots)
	assert.Equal(t, []string{"disarmed"}, logs[62], "the EEPROM knew that it was armed")
}
