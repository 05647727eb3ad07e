//go:build unix

package disk

import (
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is called like a file and is none is refused at once.
func TestOnlyRegularFilesAreOpened(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	require.NoError(t, os.WriteFile(at("file"), []byte("x"), 0o644))
	require.NoError(t, os.WriteFile(at("large"), make([]byte, mostSmall+1), 0o644))
	require.NoError(t, os.Mkdir(at("folder"), 0o755))
	require.NoError(t, syscall.Mkfifo(at("pipe"), 0o644))
	require.NoError(t, os.Symlink("pipe", at("link")))
	require.NoError(t, os.Symlink("file", at("good")))
	l, err := net.Listen("unix", at("socket"))
	require.NoError(t, err)
	defer l.Close()
	for _, c := range []struct{ reason, name, want string }{
		{"a file", at("file"), ""},
		{"a link to a file", at("good"), ""},
		{"a pipe, whose opening waits for a writer", at("pipe"), "a pipe, not a file"},
		{"a link to a pipe", at("link"), "a pipe, not a file"},
		{"a device that never ends", "/dev/zero", "a device, not a file"},
		{"a terminal", "/dev/tty", "a device, not a file"},
		{"a socket", at("socket"), "a socket, not a file"},
		{"a folder", at("folder"), "a folder, not a file"},
		{"nothing", at("none"), "no such file"},
		{"too large for a small file", at("large"), "larger than 1 MB"},
	} {
		began := time.Now()
		b, err := Read(c.name)
		if c.want == "" {
			require.NoError(t, err, c.reason)
			assert.Equal(t, "x", string(b), c.reason)
			continue
		}
		assert.ErrorContains(t, err, c.want, c.reason)
		assert.Less(t, time.Since(began), 10*time.Second, c.reason)
	}
}

func TestPathsListFolders(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "a"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a", "b.yaml"), []byte("x"), 0o644))
	var names []string
	require.NoError(t, fs.WalkDir(Paths{}, filepath.ToSlash(dir), func(name string, e fs.DirEntry, err error) error {
		names = append(names, e.Name())
		return err
	}))
	assert.Equal(t, []string{filepath.Base(dir), "a", "b.yaml"}, names)
}
