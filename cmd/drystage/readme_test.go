package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestReadmeShowsTrueOutput runs the command that README.md shows and compares what it prints with
// what README.md says it prints. UPDATE_README=1 writes it anew.
func TestReadmeShowsTrueOutput(t *testing.T) {
	text, err := os.ReadFile(root + "/README.md")
	require.NoError(t, err)
	shown := regexp.MustCompile("(?s)```sh\ngo run ./cmd/drystage ([^\n]+)\n```\n```text\n(.*?)```").FindSubmatchIndex(text)
	require.NotNil(t, shown, "README.md shows no command with its output")
	var out, errs strings.Builder
	args := strings.Fields(string(text[shown[2]:shown[3]]))
	require.Equal(t, failed, run(args, &desk{ctx: t.Context(), out: &out, err: &errs}), errs.String())
	if os.Getenv("UPDATE_README") != "" {
		next := string(text[:shown[4]]) + out.String() + string(text[shown[5]:])
		require.NoError(t, os.WriteFile(root+"/README.md", []byte(next), 0o644))
		return
	}
	require.Equal(t, string(text[shown[4]:shown[5]]), out.String())
}

// TestReadmeShowsTrueScenario wants README.md's scenario to be the shipped one, but for its story.
func TestReadmeShowsTrueScenario(t *testing.T) {
	text, err := os.ReadFile(root + "/README.md")
	require.NoError(t, err)
	m := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindSubmatch(text)
	require.NotNil(t, m)
	shipped, err := os.ReadFile(root + "/scenarios/sustainer-dead.yaml")
	require.NoError(t, err)
	for line := range strings.Lines(string(m[1])) {
		require.Contains(t, string(shipped), line)
	}
}
