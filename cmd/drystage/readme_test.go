package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestReadmeShowsTrueOutput runs the commands that README.md shows and compares what the last of each block prints
// with what README.md says it prints; a line of three dots stands for lines left out. UPDATE_README=1 writes what
// has only other numbers anew.
func TestReadmeShowsTrueOutput(t *testing.T) {
	slow(t)
	readme, err := filepath.Abs(root + "/README.md")
	require.NoError(t, err)
	text, err := os.ReadFile(readme)
	require.NoError(t, err)
	shown := regexp.MustCompile("(?s)```sh\n((?:go run ./cmd/drystage [^\n]+\n)+)```\n```text\n(.*?)```").FindAllStringSubmatch(string(text), -1)
	require.Len(t, shown, 4, "README.md shows commands with their output")
	t.Chdir(t.TempDir()) // where what they write is no one's
	for i, want := range []int{failed, passed, failed, unsure} {
		lines, says := strings.Split(strings.TrimSpace(shown[i][1]), "\n"), shown[i][2]
		var out, errs strings.Builder
		for k, line := range lines {
			out.Reset()
			status := execute(strings.Fields(strings.TrimPrefix(line, "go run ./cmd/drystage ")), &console{ctx: t.Context(), out: &out, err: &errs})
			if k < len(lines)-1 {
				require.Equal(t, passed, status, errs.String())
			} else {
				require.Equal(t, want, status, errs.String())
			}
		}
		prints := abridged(t, says, out.String())
		if os.Getenv("UPDATE_README") != "" {
			text = []byte(strings.Replace(string(text), says, prints, 1))
			require.NoError(t, os.WriteFile(readme, text, 0o644))
			continue
		}
		require.Equal(t, says, prints, shown[i][1])
	}
}

// abridged leaves those lines out of an output that says has three dots for. Lines are known by their words, not
// by their numbers.
func abridged(t *testing.T, says, out string) string {
	var b strings.Builder
	number := regexp.MustCompile(`[ -]*[0-9][0-9.]*`)
	shape := func(s string) string { return number.ReplaceAllString(strings.TrimSpace(s), "#") }
	lines, skip := strings.SplitAfter(out, "\n"), false
	for line := range strings.Lines(says) {
		if line == "...\n" {
			b.WriteString(line)
			skip = true
			continue
		}
		for skip && len(lines) > 0 && shape(lines[0]) != shape(line) {
			lines = lines[1:]
		}
		require.NotEmpty(t, lines, "README.md shows a line that isn't printed: %s", line)
		b.WriteString(lines[0])
		lines, skip = lines[1:], false
	}
	if !skip {
		b.WriteString(strings.Join(lines, ""))
	}
	return b.String()
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
