package rig

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"drystage/harness"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestMain lets the test binary play the guard, and a tool that is killed.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 {
		switch os.Args[1] {
		case "play-guard":
			if err := Guard(os.Stdin, os.Stdout, os.Stderr); err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(1)
			}
			return
		case "play-tool":
			playTool(os.Args[2])
		}
	}
	os.Exit(m.Run())
}

// simulatedSpec is a rig whose file lies in a folder; without one its pins live in memory.
func simulatedSpec(folder string) harness.Rig {
	s := spec()
	s.Simulated = true
	if folder != "" {
		s.File, s.State = filepath.Join(folder, "rig.yaml"), "pins"
	}
	return s
}

// playTool switches everything on, says so, and waits to be killed.
func playTool(folder string) {
	r, err := Open(context.Background(), simulatedSpec(folder), Options{Guard: []string{os.Args[0], "play-guard"}})
	for _, k := range []harness.DriveKind{harness.DrivePower, harness.DriveArming, harness.DriveReset} {
		if err == nil {
			err = r.Set(k, "sustainer", true)
		}
	}
	if err == nil {
		err = r.Set(harness.DriveSeparation, "sustainer", false)
	}
	fmt.Println("on", err)
	select {}
}

// A killed tool can't do anything: its guard makes the pins safe.
func TestGuardMakesPinsSafeAfterKill(t *testing.T) {
	folder := t.TempDir()
	state := StateFile(filepath.Join(folder, "rig.yaml"), "pins")
	c := exec.Command(os.Args[0], "play-tool", folder)
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	var word, what string
	_, err = fmt.Fscan(out, &word, &what)
	require.NoError(t, err)
	require.Equal(t, "<nil>", what)
	pins, err := ReadState(state)
	require.NoError(t, err)
	require.Equal(t, map[string]bool{"P5": false, "P6": true, "P7": false, "P8": true, "P9": true}, pins, "supplied, armed, wire open, held")

	began := time.Now()
	require.NoError(t, c.Process.Kill())
	safe := map[string]bool{"P5": true, "P6": false, "P7": true, "P8": false, "P9": true}
	for {
		pins, err := ReadState(state)
		require.NoError(t, err)
		if assert.ObjectsAreEqual(safe, pins) {
			break
		}
		require.Less(t, time.Since(began), 10*time.Second, "still %v", pins)
		time.Sleep(time.Millisecond)
	}
	seen := time.Since(began)
	info, err := os.Stat(state)
	require.NoError(t, err)
	took := info.ModTime().Sub(began) // by the kernel's stamp: whoever looks is late on a busy machine
	t.Logf("safe %s after the kill, seen after %s", took, seen)
	assert.Less(t, took, 200*time.Millisecond)
	_ = c.Wait()
}

func TestGuardIsReleased(t *testing.T) {
	r, err := Open(t.Context(), simulatedSpec(t.TempDir()), Options{Guard: []string{os.Args[0], "play-guard"}})
	require.NoError(t, err)
	assert.True(t, r.Guarded())
	require.NoError(t, r.Close(), "the guard ends with status 0")
}

func TestAGuardThatFailsStopsTheRun(t *testing.T) {
	for _, c := range []struct{ reason, program, want string }{
		{"no such program", "/nowhere/at/all", "can't be started"},
		{"one that says something else", "/bin/echo", "does not stand ready"},
		{"one that ends at once", "/bin/true", "does not stand ready"},
	} {
		_, err := Open(t.Context(), simulatedSpec(""), Options{Guard: []string{c.program}})
		assert.ErrorContains(t, err, c.want, c.reason)
	}
}

func TestGuardsLife(t *testing.T) {
	s := simulatedSpec(t.TempDir())
	state := StateFile(s.File, s.State)
	b, err := json.Marshal(&s)
	require.NoError(t, err)
	var out, words bytes.Buffer
	require.NoError(t, Guard(bytes.NewReader(append(append(b, '\n'), guardRelease...)), &out, &words))
	assert.Equal(t, guardReady, out.String())
	pins, err := ReadState(state)
	require.NoError(t, err)
	assert.Empty(t, pins, "released, it touches nothing")
	require.NoError(t, Guard(bytes.NewReader(append(b, '\n')), &out, &words))
	assert.Contains(t, words.String(), "its guard has driven 5 pins to their safe levels, within ")
	assert.ErrorContains(t, Guard(bytes.NewReader(nil), io.Discard, io.Discard), "the guard was given no rig")
}
