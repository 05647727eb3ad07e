//go:build unix

package main

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/rig"
)

// TestTheLivePage follows a run in real time on a simulated rig: its traces grow, its windows and edges are there; its button
// stops the run as Ctrl-C does, and the pins are safe.
func TestTheLivePage(t *testing.T) {
	b := newBrowser(t)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "rig.yaml"), []byte(killRig), 0o644))
	c := exec.Command(program(t, dir), "bench", "--live", "--real-time", "--rig", "rig.yaml", "--quiet", "scenarios/nominal.yaml", "scenarios/gusty-wind.yaml")
	c.Dir = dir
	state := rig.StateFile(filepath.Join(dir, "rig.yaml"), "kill")
	words, err := c.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	t.Cleanup(func() { c.Process.Kill() })
	address := ""
	in := bufio.NewScanner(words)
	for in.Scan() && address == "" {
		if url, ok := strings.CutPrefix(in.Text(), "live: "); ok {
			address = url
		}
	}
	require.NotEmpty(t, address)
	go func() {
		for in.Scan() { // so that nobody waits
		}
	}()

	b.open(t, address, screens[0])
	growing := func() float64 {
		return ask[float64](t, b, `parseFloat((document.querySelector("#now dd") || {textContent: "0"}).textContent)`)
	}
	require.Eventually(t, func() bool { return growing() > 0.5 }, 30*time.Second, 50*time.Millisecond, "the page follows the run")
	before := growing()
	require.Eventually(t, func() bool { return growing() > before+0.3 }, 30*time.Second, 50*time.Millisecond, "the traces grow")
	assert.Contains(t, ask[string](t, b, `document.getElementById("name").textContent`), "1 of 2: nominal")
	assert.Contains(t, ask[string](t, b, `document.getElementById("boards").textContent`), "handshakes")
	assert.Empty(t, ask[[]string](t, b, overlaps))
	ask[bool](t, b, axe+"; true")
	assert.Empty(t, ask[[]string](t, b, violations))
	pins, err := rig.ReadState(state)
	require.NoError(t, err)
	require.True(t, pins["S"], "the supply is on")

	ask[bool](t, b, `document.getElementById("stop").click(); true`)
	pressed := time.Now()
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	select {
	case err := <-ended:
		var left *exec.ExitError
		require.ErrorAs(t, err, &left)
		assert.Equal(t, unsure, left.ExitCode(), "what was not flown is unsure")
	case <-time.After(20 * time.Second):
		t.Fatal("the button did not stop the run")
	}
	assert.Less(t, time.Since(pressed), 15*time.Second)
	safeAfter(t, state, pressed)
	require.Eventually(t, func() bool {
		return strings.Contains(ask[string](t, b, `document.getElementById("state").textContent`), "stopped") || ask[bool](t, b, `document.getElementById("stop").disabled`)
	}, 10*time.Second, 50*time.Millisecond)
	for _, wrong := range b.errors() {
		assert.Contains(t, wrong, "ERR_", "only that the program has ended")
	}
}

// What would show a run to others, or can't be followed, is refused before anything flies.
func TestLiveRefuses(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"--live --live-address 0.0.0.0:0", "wanted a token of at least 16 characters"},
		{"--live --live-address 0.0.0.0:0 --live-token short", "give --live-token new"},
		{"--live --live-address nonsense", "wanted HOST:PORT"},
		{"--live --live-speed=-1", "wanted 0 to 1000"},
		{"--live --repeat 2", "--live follows one run"},
		{"--live --queue nats://127.0.0.1:9", "--live follows flights of this computer"},
	} {
		code, out, errs := command(t, append(append([]string{"bench", "-q"}, strings.Fields(c.args)...), "scenarios/nominal.yaml")...)
		assert.Equal(t, misused, code, c.args)
		assert.Contains(t, errs, c.want)
		assert.Empty(t, out)
	}
	code, out, errs := command(t, "bench", "-q", "--live", "--live-speed", "0", "scenarios/nominal.yaml")
	assert.Equal(t, passed, code, out+errs)
	assert.Contains(t, errs, "live: http://127.0.0.1:")
	code, _, errs = command(t, "bench", "-q", "--live", "--live-speed", "0", "--live-address", "0.0.0.0:0", "--live-token", "new", "scenarios/nominal.yaml")
	assert.Equal(t, passed, code, errs)
	assert.Regexp(t, `live: http://\S+/\?token=[0-9a-f]{32}\n`, errs)
}
