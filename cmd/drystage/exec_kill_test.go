//go:build linux

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestBoardEndsWithAKilledBench: programs that never look at their line, as an emulator of a board may not, and all that
// they have started end with a bench that is killed, whatever session or parent they have.
func TestBoardEndsWithAKilledBench(t *testing.T) {
	hearHangups(t)
	dir := t.TempDir()
	bench := program(t, dir)
	unarmed, err := filepath.Abs("../../scenarios/unarmed.yaml")
	require.NoError(t, err)
	deaf := `sh -c 'echo $$ >>pids; exec sleep 300'`
	for name, script := range map[string]string{
		"itself":                     "echo $$ >>pids; echo x >>pids; exec sleep 300",
		"a wrapper":                  deaf + " & " + deaf + " & wait",
		"a double fork":              "(" + deaf + " &) ; " + deaf,
		"a session of its own":       "setsid " + deaf + " & setsid " + deaf + " & wait",
		"a double fork in a session": "(setsid " + deaf + " &) ; (setsid sh -c \"(" + strings.ReplaceAll(deaf, "$", `\$`) + " &)\" &) ; exec sleep 300",
	} {
		for _, sig := range []syscall.Signal{syscall.SIGKILL, syscall.SIGHUP} {
			t.Run(name+", "+sig.String(), func(t *testing.T) {
				dir := t.TempDir()
				board := filepath.Join(dir, "deaf")
				require.NoError(t, os.WriteFile(board, []byte("#!/bin/sh\n"+script+"\n"), 0o755))
				c := exec.Command(bench, "bench", "--quiet", "--timeout", "200s", "--jobs", "1", "--board", "mock", "--board", "sustainer=exec:"+board, unarmed)
				c.Dir = dir
				require.NoError(t, c.Start())
				var pids []int
				require.Eventually(t, func() bool {
					text, _ := os.ReadFile(filepath.Join(dir, "pids"))
					pids = pids[:0]
					for _, word := range strings.Fields(string(text)) {
						if pid, err := strconv.Atoi(word); err == nil {
							pids = append(pids, pid)
						}
					}
					return len(strings.Fields(string(text))) == 2
				}, 30*time.Second, time.Millisecond, "the board has started")
				for _, pid := range pids {
					require.NoError(t, syscall.Kill(pid, 0), "%d runs", pid)
				}
				require.NoError(t, c.Process.Signal(sig))
				_ = c.Wait()
				for _, pid := range pids {
					require.Eventually(t, func() bool { return syscall.Kill(pid, 0) != nil || zombie(pid) }, 5*time.Second, time.Millisecond, "%d has ended", pid)
				}
			})
		}
	}
}

// zombie says that a process has ended and that nobody has asked how.
func zombie(pid int) bool {
	text, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "stat"))
	return err == nil && strings.Contains(string(text), ") Z ")
}
