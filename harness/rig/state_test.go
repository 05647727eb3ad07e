package rig

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A rig's file may come from anybody. It can't make drystage write any file but a state file.
func TestAStateFileOverwritesNothing(t *testing.T) {
	const theirs = "alias ls=ls\n"
	for _, c := range []struct {
		reason, state string
		plant         func(t *testing.T, folder, victim string)
		want          string
	}{
		{"a path out of the folder", "../../victim", nil, "no word"},
		{"a path in the folder", "a/b", nil, "no word"},
		{"no name at all", ".", nil, "no word"},
		{"another file of that name", "pins", func(t *testing.T, folder, victim string) {
			require.NoError(t, os.Mkdir(folder, 0o755))
			require.NoError(t, os.Rename(victim, filepath.Join(folder, "pins.pins")))
			require.NoError(t, os.Link(filepath.Join(folder, "pins.pins"), victim))
		}, "left as it is"},
		{"an empty file", "pins", func(t *testing.T, folder, _ string) {
			require.NoError(t, os.Mkdir(folder, 0o755))
			require.NoError(t, os.WriteFile(filepath.Join(folder, "pins.pins"), nil, 0o644))
		}, "left as it is"},
		{"a link to a file", "pins", func(t *testing.T, folder, victim string) {
			require.NoError(t, os.Mkdir(folder, 0o755))
			require.NoError(t, os.Symlink(victim, filepath.Join(folder, "pins.pins")))
		}, "left as it is"},
		{"a link to a file that is still to be made", "pins", func(t *testing.T, folder, victim string) {
			require.NoError(t, os.Mkdir(folder, 0o755))
			require.NoError(t, os.Symlink(victim+"2", filepath.Join(folder, "pins.pins")))
		}, "left as it is"},
		{"a link to a folder", "victim", func(t *testing.T, folder, victim string) {
			require.NoError(t, os.Symlink(filepath.Dir(victim), folder))
		}, "is no folder"},
		{"a link to a folder beside the rig", "victim", func(t *testing.T, folder, _ string) {
			require.NoError(t, os.Mkdir(filepath.Join(filepath.Dir(folder), "other"), 0o755))
			require.NoError(t, os.Symlink("other", folder))
		}, "is no folder"},
		{"a file in the folder's place", "pins", func(t *testing.T, folder, _ string) {
			require.NoError(t, os.WriteFile(folder, nil, 0o644))
		}, "is no folder"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			home := t.TempDir()
			victim := filepath.Join(home, "victim.pins")
			require.NoError(t, os.WriteFile(victim, []byte(theirs), 0o644))
			rigs := filepath.Join(home, "rigs")
			require.NoError(t, os.Mkdir(rigs, 0o755))
			if c.plant != nil {
				c.plant(t, filepath.Join(rigs, stateFolder), victim)
			}
			s := simulatedSpec(rigs)
			s.State = c.state
			_, err := Open(t.Context(), s, Options{})
			assert.ErrorContains(t, err, c.want)
			got, err := os.ReadFile(victim)
			require.NoError(t, err)
			assert.Equal(t, theirs, string(got))
			assert.NoFileExists(t, victim+"2")
		})
	}
}

func TestAStateFileIsUsedAgain(t *testing.T) {
	s := simulatedSpec(t.TempDir())
	for range 2 {
		r, err := Open(t.Context(), s, Options{})
		require.NoError(t, err)
		require.NoError(t, r.Close())
	}
	pins, err := ReadState(StateFile(s.File, s.State))
	require.NoError(t, err)
	assert.Len(t, pins, 5)
	_, err = ReadState("state_test.go")
	assert.ErrorContains(t, err, "no file of simulated pins")
}
