//go:build unix

package main

import (
	"bytes"
	"net"
	"os/exec"
	"path/filepath"
	"testing"

	"drystage/harness/board/boardtest"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// askless serves a board without TEST on a socket, for as many callers as come.
func askless(t *testing.T) (address string) {
	name := filepath.Join(t.TempDir(), "board")
	l, err := net.Listen("unix", name)
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				g, in := boardtest.NewFake(boardtest.None), make([]byte, 1024)
				for {
					n, err := c.Read(in)
					if err != nil {
						return
					}
					if _, err := c.Write(g.Feed(in[:n], nil)); err != nil {
						return
					}
				}
			}()
		}
	}()
	return "unix:" + name
}

// A board that can't be asked for a pulse is said to be one, with what remains.
func TestMeasureABoardWithoutTEST(t *testing.T) {
	dir := t.TempDir()
	measure := func(more ...string) (status int, out, words string) {
		var o, e bytes.Buffer
		args := append([]string{"rig", "scenarios/rigs/simulated.yaml", "--measure", "--count", "10", "--board", askless(t)}, more...)
		c := exec.CommandContext(t.Context(), program(t, dir), args...)
		c.Dir, c.Stdout, c.Stderr = dir, &o, &e
		_ = c.Run() // the status tells
		return c.ProcessState.ExitCode(), o.String(), e.String()
	}
	status, out, words := measure("--inert")
	assert.Equal(t, unsure, status)
	assert.Contains(t, words, "nothing was measured: sustainer and booster can't be asked; say drystage rig scenarios/rigs/simulated.yaml --loopback")
	assert.Contains(t, out, "board sustainer does not offer TEST, so that its outputs can't be asked for a pulse; what remains is --loopback")
	assert.Contains(t, words, "CAUTION", "a socket may lead to real outputs")

	status, out, words = measure()
	assert.Equal(t, refused, status, "nothing moves before it is confirmed")
	assert.Empty(t, out)
	assert.Contains(t, words, "say --inert")
}
