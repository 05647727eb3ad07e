//go:build unix

package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"drystage/harness/rig"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const killRig = `drystage: rig
name: Kill
rig: simulated
state: kill
boards:
  sustainer: {outputs: {ignite: {load: {kind: open}, pin: A}, drogue: {load: {kind: open}, pin: B}, main: {load: {kind: open}}}}
  booster: {outputs: {main: {load: {kind: open}}}}
drives:
  - {name: supply, does: power sustainer, pin: S}
  - {name: arm, does: arming sustainer, pin: R}
  - {name: wire, does: breakwire sustainer separation, pin: W}
`

// program gives this test binary under the name by which it is drystage, guard and all.
func program(t *testing.T, dir string) string {
	from, err := os.Open(os.Args[0])
	require.NoError(t, err)
	defer from.Close()
	name := filepath.Join(dir, "drystage")
	to, err := os.OpenFile(name, os.O_CREATE|os.O_WRONLY, 0o755)
	require.NoError(t, err)
	_, err = io.Copy(to, from)
	require.NoError(t, err)
	require.NoError(t, to.Close())
	return name
}

// inFlight starts scenarios, no names: the whole suite, on a simulated rig and waits until its first board is armed.
func inFlight(t *testing.T, names ...string) (c *exec.Cmd, state string) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "rig.yaml"), []byte(killRig), 0o644))
	c = exec.Command(program(t, dir), append([]string{"bench", "--rig", "rig.yaml", "--quiet", "--out", "records"}, names...)...)
	c.Dir, state = dir, rig.StateFile(filepath.Join(dir, "rig.yaml"), "kill")
	require.NoError(t, c.Start())
	for began := time.Now(); ; time.Sleep(100 * time.Microsecond) {
		require.Less(t, time.Since(began), 3*time.Minute, "never armed")
		if pins, err := rig.ReadState(state); err == nil && pins["R"] && pins["S"] {
			return c, state
		}
	}
}

var killSafe = map[string]bool{"S": false, "R": false, "W": true}

// safeAfter waits until every pin is safe, and says how long that took.
func safeAfter(t *testing.T, state string, began time.Time) time.Duration {
	for {
		pins, err := rig.ReadState(state)
		require.NoError(t, err)
		if assert.ObjectsAreEqual(killSafe, pins) {
			return time.Since(began)
		}
		require.Less(t, time.Since(began), 10*time.Second, "still %v", pins)
		time.Sleep(time.Millisecond)
	}
}

// written is when the guard wrote the last pin, by the kernel's stamp: whoever looks is late on a busy machine.
func written(t *testing.T, state string) time.Time {
	info, err := os.Stat(state)
	require.NoError(t, err)
	return info.ModTime()
}

func TestRigIsSafeAfterKill(t *testing.T) {
	c, state := inFlight(t)
	began := time.Now()
	require.NoError(t, c.Process.Kill())
	require.Error(t, c.Wait())
	gone := time.Since(began)
	seen := safeAfter(t, state, began)
	took := written(t, state).Sub(began)
	t.Logf("safe %s after kill -9 in mid-run; this test saw the process gone after %s and the pins safe after %s", took, gone, seen)
	assert.Less(t, took, 200*time.Millisecond)
}

// A rig that could not be given back as it should is no pass, whatever the flights were.
func TestALostGuardIsNoPass(t *testing.T) {
	c, _ := inFlight(t, "scenarios/long-wait.yaml")
	require.NoError(t, c.Process.Signal(syscall.SIGSTOP))
	require.NoError(t, exec.Command("pkill", "-KILL", "-P", strconv.Itoa(c.Process.Pid), "-f", "guard").Run())
	require.NoError(t, c.Process.Signal(syscall.SIGCONT))
	var left *exec.ExitError
	require.ErrorAs(t, c.Wait(), &left)
	assert.Equal(t, unsure, left.ExitCode())
}

func TestRigIsSafeAfterCtrlC(t *testing.T) {
	for _, sig := range []os.Signal{syscall.SIGINT, syscall.SIGTERM} {
		c, state := inFlight(t)
		began := time.Now()
		require.NoError(t, c.Process.Signal(sig))
		err := c.Wait()
		var left *exec.ExitError
		require.ErrorAs(t, err, &left, "the suite takes longer than this test")
		assert.Equal(t, unsure, left.ExitCode(), "interrupted is not passed")
		safeAfter(t, state, began)
		records, err := filepath.Glob(filepath.Join(c.Dir, "records", "*"))
		require.NoError(t, err)
		for _, r := range records {
			show := exec.Command(c.Path, "show", r)
			require.NoError(t, show.Run(), "%s: the records of finished scenarios are whole", r)
		}
	}
}
