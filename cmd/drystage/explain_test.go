package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/files/suite"
	"drystage/harness/run"
)

// The pages of the reference say what `drystage explain` says. UPDATE_REFERENCE=1 writes them anew.
func TestReferencePagesAreFresh(t *testing.T) {
	pages := filepath.Join(root, "reference")
	if os.Getenv("UPDATE_REFERENCE") != "" {
		status, _, errs := do(t, "explain", "--pages", pages)
		require.Equal(t, passed, status, errs)
	}
	made := t.TempDir()
	status, _, errs := do(t, "explain", "--pages", made)
	require.Equal(t, passed, status, errs)
	want, err := os.ReadDir(made)
	require.NoError(t, err)
	have, err := os.ReadDir(pages)
	require.NoError(t, err)
	assert.Len(t, have, len(want), "pages of the reference")
	for _, e := range want {
		a, err := os.ReadFile(filepath.Join(made, e.Name()))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(pages, e.Name()))
		require.NoError(t, err)
		assert.Equal(t, string(a), string(b), "%s: UPDATE_REFERENCE=1 go test ./cmd/drystage -run ReferencePages writes it anew", e.Name())
	}
}

// Every command has an example, and those that need nothing run.
func TestExamplesOfCommandsRun(t *testing.T) {
	slow(t)
	folder(t, nil)
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	status, _, errs := do(t, "bench", "-q", "--out", "records", "scenarios/nominal.yaml")
	require.Equal(t, passed, status, errs)
	status, _, errs = do(t, "show", "records/nominal.record", "--log", "flight.csv")
	require.Equal(t, passed, status, errs)
	require.NoError(t, os.WriteFile("drystage.yaml", []byte("drystage: project\n"), 0o644))
	for name, line := range commandExamples {
		if name == "pace" || name == "completion" || name == "worker" || name == "benches" || name == "mutants" || strings.Contains(line, "exec:") {
			continue // seconds on the wall, another shell, a server, a firmware, another process
		}
		args := strings.Fields(line)[1:]
		if before, quoted, is := strings.Cut(line, `"`); is { // "54 mm" is one argument
			args = strings.Fields(before)[1:]
			for i, part := range strings.Split(quoted, `"`) {
				if i%2 == 0 && part != "" {
					args = append(args, part)
				} else {
					args = append(args, strings.Fields(part)...)
				}
			}
		}
		status, out, errs := do(t, args...)
		assert.NotEqual(t, misused, status, "%s: %s", line, errs)
		assert.NotEqual(t, refused, status, "%s: %s", line, errs)
		assert.NotEmpty(t, out, line)
	}
	_, out, _ := do(t, "explain", "commands")
	for name := range commandExamples {
		assert.Contains(t, out, "commands."+name+"\n")
	}
	for _, block := range strings.Split(out, "\ncommands.")[1:] {
		assert.Contains(t, block, "    example: drystage ")
	}
}

// The files of which the reference takes examples fly to their end.
func TestExamplesOfFilesFly(t *testing.T) {
	slow(t)
	folder(t, nil)
	require.NoError(t, os.CopyFS(".", scenario.Examples))
	found, err := suite.Load([]string{"example/day.yaml", "example/faults.yaml"}, io.Discard)
	require.NoError(t, err)
	plans := withoutNMEA(found.Plans...)
	b, err := run.Open(t.Context(), run.Options{}, plans)
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, flyPlans(t.Context(), b, plans, func(_ int, rec *harness.Record, v harness.Verdict) error {
		assert.True(t, rec.Complete(), "%s: %s", rec.Plan.File, rec.Cause)
		return nil
	}))
}
