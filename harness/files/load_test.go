package files

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestShippedFilesHaveNoFinding(t *testing.T) {
	found := 0
	for _, pattern := range []string{"*.yaml", "*/*.yaml", "*/*.csv"} {
		files, err := filepath.Glob("../../scenarios/" + pattern)
		require.NoError(t, err)
		for _, f := range files {
			found++
			name, err := filepath.Rel("../../scenarios", f)
			require.NoError(t, err)
			for _, p := range Lint(os.DirFS("../../scenarios"), filepath.ToSlash(name)) {
				t.Error(p.Error())
			}
		}
	}
	require.Greater(t, found, 20)
}
