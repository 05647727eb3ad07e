package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestBoardsWithClocksOfTheirOwnAreRefused: until there is real-time pacing, such a board is not flown
// as if its clock could be driven.
func TestBoardsWithClocksOfTheirOwnAreRefused(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(root+"/scenarios")))
	name := filepath.Join(dir, "boards", "booster.yaml")
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	free := strings.Replace(string(text), "lockstep: true", "lockstep: false", 1)
	require.NotEqual(t, string(text), free)
	require.NoError(t, os.WriteFile(name, []byte(free), 0o600))

	var out, errs strings.Builder
	code := run([]string{"bench", filepath.Join(dir, "nominal.yaml")}, &desk{ctx: t.Context(), out: &out, err: &errs})
	require.Equal(t, misused, code)
	require.Contains(t, errs.String(), "board booster says `lockstep: false`")
}
