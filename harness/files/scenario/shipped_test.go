package scenario_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness/files/scenario"
)

// TestShippedFiles lints every shipped file, and holds it against the schema of its kind with an
// independent library.
func TestShippedFiles(t *testing.T) {
	const root = "../../../scenarios"
	kinds := map[string]int{}
	for _, pattern := range []string{"*.yaml", "*/*.yaml", "*/*.csv"} {
		names, err := filepath.Glob(root + "/" + pattern)
		require.NoError(t, err)
		for _, name := range names {
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			rel, err := filepath.Rel(root, name)
			require.NoError(t, err)
			require.Empty(t, scenario.Lint(os.DirFS(root), filepath.ToSlash(rel)))

			kind, doc := "motor", header(string(text))
			if !strings.HasSuffix(name, ".csv") {
				_, kind, _ = strings.Cut(string(text), "drystage: ")
				kind, _, _ = strings.Cut(kind, "\n")
				doc = string(text)
			}
			require.NoError(t, validate(t, kind, doc), name)
			kinds[kind]++
		}
	}
	for _, kind := range []string{"vehicle", "motor", "board", "scenario", "rig"} {
		require.NotZero(t, kinds[kind], "no shipped %s was seen", kind)
	}
	require.GreaterOrEqual(t, kinds["scenario"], 16)
}

// header turns the `# key: value` lines of a motor file into YAML.
func header(text string) string {
	var out strings.Builder
	for line := range strings.Lines(text) {
		if rest, ok := strings.CutPrefix(line, "# "); ok {
			out.WriteString(rest)
		}
	}
	return out.String()
}
