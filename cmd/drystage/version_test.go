//go:build unix

package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/run"
)

// TestTwoBuildsAreTwoVersions: a build that no commit tells apart from another is told apart by its own bytes, and is
// the same each time.
func TestTwoBuildsAreTwoVersions(t *testing.T) {
	slow(t)
	name := program(t, t.TempDir())
	version := func() string {
		out, err := exec.Command(name, "version").Output()
		require.NoError(t, err)
		return string(out)
	}
	first := version()
	assert.Equal(t, first, version())
	require.True(t, strings.HasPrefix(first, "drystage "+run.Release+"+devel."), "a test's binary has no commit: %s", first)
	f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString("one more byte is another program")
	require.NoError(t, err)
	require.NoError(t, f.Close())
	assert.NotEqual(t, first, version())
}
