package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestValuesBelowZero: a value that begins with a minus sign is taken behind its flag with a space as with =.
func TestValuesBelowZero(t *testing.T) {
	t.Chdir(t.TempDir())
	vehicle := "scenarios/vehicles/dunlin.yaml"
	for _, row := range []struct {
		reason string
		args   []string
		says   string
	}{
		{"as the flag's help writes it", []string{"fly", vehicle, "--temperature", "-5 degC"}, "-5.0 degC"},
		{"with =", []string{"fly", vehicle, "--temperature=-5degC"}, "-5.0 degC"},
		{"before what is flown", []string{"fly", "--rail-azimuth", "-90 deg", vehicle}, "towards 270 deg"},
		{"with a point first", []string{"fly", vehicle, "--wind", "3 m/s", "--wind-from", "-.9 deg"}, "from 359 deg"},
	} {
		status, out, errs := do(t, row.args...)
		require.Equal(t, passed, status, "%s: %s", row.reason, errs)
		require.Contains(t, out, row.says, row.reason)
	}
	for _, row := range []struct {
		reason string
		args   []string
		says   string
	}{
		{"out of range, not unknown", []string{"fly", vehicle, "--every", "-1 ms"}, "--every: found -1 ms"},
		{"out of range, not unknown", []string{"fly", vehicle, "--pressure", "-960 hPa"}, "--pressure: found -960 hPa"},
		{"a flag is no value", []string{"fly", vehicle, "--csv", "--seed", "1"}, "expected string value"},
		{"a number that no flag takes", []string{"fly", vehicle, "-5"}, "unknown flag -5"},
		{"a log's temperature", []string{"examine", "none.csv", "--temperature", "-400 degC"}, "none.csv"},
	} {
		status, _, errs := do(t, row.args...)
		require.Equal(t, misused, status, row.reason)
		require.Contains(t, errs, row.says, row.reason)
	}
	require.Equal(t, []string{"a", "--axis=-x", "--", "--b", "-1"}, joinNegativeValues([]string{"a", "--axis", "-x", "--", "--b", "-1"}))
}

// TestShowTakesFolders: as ready does, linked folders too.
func TestShowTakesFolders(t *testing.T) {
	t.Chdir(t.TempDir())
	status, _, errs := do(t, "bench", "-q", "--out", "flown/a", "scenarios/stays-on-rail.yaml")
	require.Equal(t, passed, status, errs)
	require.NoError(t, os.Symlink("flown", "link"))
	require.NoError(t, os.Symlink("..", filepath.Join("flown", "a", "up")))
	for _, dir := range []string{"flown", "link"} {
		status, out, errs := do(t, "show", dir)
		require.Equal(t, passed, status, errs)
		require.Contains(t, out, "\n1 scenario: 1 passed", dir)
		status, out, errs = do(t, "ready", dir)
		require.Equal(t, unsure, status, errs)
		require.Contains(t, out, "1 of 1 scenario", dir)
	}
	require.NoError(t, os.Mkdir("empty", 0o755))
	status, _, errs = do(t, "show", "empty")
	require.Equal(t, misused, status)
	require.Contains(t, errs, "no .record file below empty")
}
