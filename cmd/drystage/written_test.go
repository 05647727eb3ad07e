//go:build linux

package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// printing are the commands, each as it ends with 0 while its output can be written.
var printing = []struct {
	args string
	code int
}{
	{"--help", passed}, {"bench --help", passed}, {"version", passed}, {"schema scenario", passed},
	{"lint scenarios/nominal.yaml", passed}, {"explain faults", passed}, {"ports", passed},
	{"bench --list", passed}, {"bench --list-defects", passed}, {"play --list-settings", passed},
	{"bench -q short.yaml --out flown", passed}, {"bench -q short.yaml --format json", passed}, {"bench -q short.yaml --format junit", passed},
	{"bench -q short.yaml --coverage", passed}, {"bench -q short.yaml --repeat 2", passed}, {"bench -q short.yaml --html page.html", passed},
	{"show flown/short.record", passed}, {"show flown/short.record --injected", passed}, {"show flown/short.record --csv -", passed},
	{"show flown/short.record --nmea -", passed}, {"show flown/short.record --log log.csv", passed},
	{"fly scenarios/vehicles/dunlin.yaml", passed}, {"sweep -q short.yaml --flights 2", passed}, {"sweep -q short.yaml --flights 2 --format json", passed},
	{"sweep -q short.yaml --only 1", passed}, {"hunt -q short.yaml --flights 2 --seeds 1", passed}, {"hunt -q short.yaml --flights 2 --seeds 1 --format json", passed},
	{"defects -q short.yaml --defect ignores-tilt", failed},
	{"rig scenarios/rigs/simulated.yaml", passed}, {"rig", passed},
	{"contract --quiet", passed}, {"examine log.csv", passed}, {"replay log.csv", unsure}, {"ready -q flown", unsure}, {"ready -q flown --format json", unsure},
	{"examine log.csv --propose-mapping map.yaml", passed},
}

// Whatever a command has to say and can't, its status is none of success. What a reader who leaves early
// misses is not worth a word.
func TestLostOutputIsNoSuccess(t *testing.T) {
	slow(t)
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	require.NoError(t, err)
	defer full.Close()
	shortSuite(t)
	for _, c := range printing {
		args := strings.Fields(c.args)
		code, out, errs := command(t, args...)
		require.Equal(t, c.code, code, "%s: %s", c.args, errs)
		require.NotEmpty(t, out, c.args)
		var words bytes.Buffer
		code = execute(args, &console{ctx: t.Context(), in: strings.NewReader(""), out: full, err: &words})
		assert.Contains(t, []int{misused, c.code + misused*(1-min(c.code, 1))}, code, c.args)
		assert.Equal(t, 1, strings.Count(words.String(), "no space left on device"), "%s: %s", c.args, words.String())

		r, w, err := os.Pipe()
		require.NoError(t, err)
		require.NoError(t, r.Close())
		words.Reset()
		code = execute(args, &console{ctx: t.Context(), in: strings.NewReader(""), out: w, err: &words})
		assert.Contains(t, []int{misused, c.code + misused*(1-min(c.code, 1))}, code, c.args)
		assert.NotContains(t, words.String(), "broken pipe", c.args)
		require.NoError(t, w.Close())
	}
}

// The same as a process: of its own standard output too.
func TestLostOutputOfAProcess(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	require.NoError(t, err)
	defer full.Close()
	name := program(t, t.TempDir())
	c := exec.Command(name, "lint", filepath.Join(root, "scenarios/nominal.yaml"))
	c.Stdout = full
	var left *exec.ExitError
	require.ErrorAs(t, c.Run(), &left)
	assert.Equal(t, misused, left.ExitCode())
	r, w, err := os.Pipe()
	require.NoError(t, err)
	require.NoError(t, r.Close())
	c = exec.Command(name, "lint", filepath.Join(root, "scenarios/nominal.yaml"))
	var words bytes.Buffer
	c.Stdout, c.Stderr = w, &words
	require.ErrorAs(t, c.Run(), &left)
	require.NoError(t, w.Close())
	assert.Equal(t, misused, left.ExitCode(), "it ends by itself, not by a signal")
	assert.Empty(t, words.String())
}

// Files that could not be written whole are not there, and nothing that is no file is replaced.
func TestAFileThatCantBeWrittenIsNotThere(t *testing.T) {
	dir := t.TempDir()
	link := filepath.Join(dir, "link")
	require.NoError(t, os.Symlink("/dev/full", link))
	for _, name := range []string{link, "/dev/full", dir} {
		err := writeWhole(name, func(w io.Writer) error { _, err := w.Write([]byte("x")); return err })
		assert.ErrorContains(t, err, "no regular file", name)
	}
	err := writeWhole(filepath.Join(dir, "half"), func(w io.Writer) error { _, _ = w.Write([]byte("x")); return io.ErrShortWrite })
	assert.ErrorIs(t, err, io.ErrShortWrite)
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, left, 1)
}
