package published_test

import (
	"os"
	"path/filepath"
	"testing"

	"drystage/sim/published"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNumbers(t *testing.T) {
	name := filepath.Join(t.TempDir(), "table.csv")
	require.NoError(t, os.WriteFile(name, []byte("# source\nx,y\n1,2.5\n-3,4e2\n"), 0o600))
	rows, err := published.Numbers(name, 2)
	require.NoError(t, err)
	assert.Equal(t, [][]float64{{1, 2.5}, {-3, 400}}, rows)
	for reason, c := range map[string]struct {
		name string
		want int
	}{"cut short": {name, 3}, "no file": {name + "x", 2}} {
		_, err := published.Numbers(c.name, c.want)
		assert.Error(t, err, reason)
	}
	require.NoError(t, os.WriteFile(name, []byte("x\none\n"), 0o600))
	_, err = published.Numbers(name, 1)
	assert.Error(t, err, "a word")
}
