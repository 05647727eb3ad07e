//go:build linux

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestKilledCommandsGoOn: sweep, hunt and defects that were killed in the middle print and write, when they are started again,
// what they would have printed and written.
func TestKilledCommandsGoOn(t *testing.T) {
	slow(t)
	dir := t.TempDir()
	bin := program(t, dir)
	shortSuite(t)
	for name, args := range map[string][]string{
		"sweep":   {"sweep", "short.yaml", "--flights", "100", "--rare", "1", "--board", "mock:ignores-tilt", "--samples", "DIR/a.csv", "--out", "DIR/out"},
		"hunt":    {"hunt", "short.yaml", "--flights", "60", "--write", "worst.yaml"},
		"defects": {"defects", "scenarios/unarmed.yaml", "short.yaml", "--defect", "ignores-arming", "--defect", "ignores-tilt", "--defect", "timer-only"},
	} {
		t.Run(name, func(t *testing.T) {
			whole, part := name+" whole", name+" part"
			run := func(place string, kill bool) (out string) {
				require.NoError(t, os.MkdirAll(place, 0o755))
				var list []string
				for _, a := range append(slices.Clone(args), "--quiet", "--jobs", "2", "--resume", "DIR/known") {
					list = append(list, strings.Replace(a, "DIR", place, 1))
				}
				var text, words strings.Builder
				c := exec.Command(bin, list...)
				c.Stdout, c.Stderr = &text, &words
				require.NoError(t, c.Start())
				if kill {
					require.Eventually(t, func() bool { // until some flights are known
						text, err := os.ReadFile(filepath.Join(place, "known"))
						_, flights, _ := strings.Cut(string(text), "\n")
						return err == nil && flights != ""
					}, time.Minute, time.Millisecond)
					require.NoError(t, c.Process.Signal(syscall.SIGKILL))
				}
				_ = c.Wait() // the status may be that of a failure
				require.NotContains(t, words.String(), "drystage:")
				if strings.Contains(words.String(), " known\n") {
					text.WriteString("some were known\n")
				}
				return strings.ReplaceAll(text.String(), place, "DIR")
			}
			want := run(whole, false)
			require.NotEmpty(t, want)
			run(part, true)
			require.Equal(t, want+"some were known\n", run(part, false))
			require.Equal(t, want+"some were known\n", run(part, false), "and once more, when all is known")
			require.Empty(t, differences(t, whole, part))
		})
	}
}

// differences names the files that differ between two folders.
func differences(t *testing.T, a, b string) (list []string) {
	read := func(dir string) map[string]string {
		out := map[string]string{}
		require.NoError(t, filepath.WalkDir(dir, func(name string, e os.DirEntry, err error) error {
			if err != nil || e.IsDir() || strings.HasPrefix(e.Name(), ".drystage-") {
				return err
			}
			text, err := os.ReadFile(name)
			out[strings.TrimPrefix(name, dir)] = string(text)
			return err
		}))
		return out
	}
	left, right := read(a), read(b)
	for name, text := range left {
		if other, there := right[name]; !there || other != text {
			list = append(list, name)
		}
	}
	for name := range right {
		if _, there := left[name]; !there {
			list = append(list, name)
		}
	}
	return list
}

func TestWrongUseOfResume(t *testing.T) {
	shortSuite(t)
	require.NoError(t, os.WriteFile("mine.txt", []byte("mine"), 0o644))
	for args, want := range map[string]string{
		"sweep short.yaml --flights 2 --resume a --queue nats://127.0.0.1:1": "results lie at the queue",
		"sweep short.yaml --only 1 --resume a":                               "leave one out",
		"sweep short.yaml --flights 2 --resume a --board exec:true":          "exec:true is not built in",
		"sweep short.yaml --flights 2 --resume a --real-time":                "without --real-time",
		"hunt short.yaml --resume mine.txt":                                  "mine.txt: found something that no earlier --resume has written",
		"defects short.yaml --resume .":                                      "--resume: ",
	} {
		code, _, words := do(t, strings.Fields(args)...)
		require.Equal(t, misused, code, args)
		require.Contains(t, words, want, args)
	}
	code, _, words := do(t, "sweep", "short.yaml", "--flights", "2", "--resume", "a", "--quiet")
	require.Equal(t, passed, code, words)
	code, _, words = do(t, "sweep", "short.yaml", "--flights", "2", "--resume", "a", "--quiet", "--seed", "7")
	require.Equal(t, misused, code)
	require.Contains(t, words, "short.yaml with seed 1, now the seed is 7")
	vehicle, err := os.ReadFile("scenarios/vehicles/dunlin.yaml")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile("scenarios/vehicles/dunlin.yaml", append(vehicle, "# heavier paint\n"...), 0o644))
	code, _, words = do(t, "sweep", "short.yaml", "--flights", "2", "--resume", "a", "--quiet")
	require.Equal(t, misused, code)
	require.Contains(t, words, "scenarios/vehicles/dunlin.yaml has changed since")
}
