package benchtest

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A module outside of this one uses benchtest by a replace line, offline. Its program is a good board, or one with a
// defect, which its tests must tell.
func TestOutsideModule(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/outside")))
	root, err := filepath.Abs("../../..")
	require.NoError(t, err)
	file := filepath.Join(dir, "go.mod")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	const there = "replace drystage => ../../../../..\n"
	require.Contains(t, string(text), there)
	require.NoError(t, os.WriteFile(file, []byte(strings.ReplaceAll(string(text), there, "replace drystage => "+root+"\n")), 0o644))
	sums, err := os.ReadFile(filepath.Join(root, "go.sum"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "go.sum"), sums, 0o644))
	flown := func(env ...string) (string, error) {
		cmd := exec.CommandContext(t.Context(), "go", "test", "-v", "-count=1", ".")
		cmd.Dir, cmd.Env = dir, append(append(os.Environ(), "GOFLAGS=-mod=mod", "GOWORK=off", "GOPROXY=off"), env...)
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	out, err := flown()
	require.NoError(t, err, out)
	for _, name := range []string{"TestMain150", "TestSuite/burn", "TestSuite/coast"} {
		require.Contains(t, out, "--- PASS: "+name)
	}
	out, err = flown("DEFECT=stages-blind")
	require.Error(t, err, out)
}
