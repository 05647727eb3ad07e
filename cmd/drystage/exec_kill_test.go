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

// A program that never looks at its line, as an emulator of a board may not, ends with a bench that is
// killed outright.
func TestBoardEndsWithAKilledBench(t *testing.T) {
	dir := t.TempDir()
	board := filepath.Join(dir, "deaf")
	require.NoError(t, os.WriteFile(board, []byte("#!/bin/sh\necho $$ >\"$1\"\nexec sleep 300\n"), 0o755))
	unarmed, err := filepath.Abs("../../scenarios/unarmed.yaml")
	require.NoError(t, err)
	mark := filepath.Join(dir, "pid")
	c := exec.Command(program(t, dir), "bench", "--quiet", "--timeout", "200s", "--board", "exec:"+board+" "+mark, unarmed)
	c.Dir = dir
	require.NoError(t, c.Start())
	pid := 0
	require.Eventually(t, func() bool {
		text, _ := os.ReadFile(mark)
		pid, _ = strconv.Atoi(strings.TrimSpace(string(text)))
		return pid > 0
	}, 30*time.Second, time.Millisecond, "the board has started")
	require.NoError(t, syscall.Kill(pid, 0), "it runs")
	require.NoError(t, c.Process.Kill())
	require.Error(t, c.Wait())
	require.Eventually(t, func() bool { return syscall.Kill(pid, 0) != nil || zombie(pid) }, 5*time.Second, time.Millisecond, "it has ended")
}

// zombie says that a process has ended and that nobody has asked how.
func zombie(pid int) bool {
	text, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "stat"))
	return err == nil && strings.Contains(string(text), ") Z ")
}
