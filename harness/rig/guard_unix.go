//go:build unix

package rig

import (
	"os/exec"
	"syscall"
)

// apart gives a process a session of its own, so that signals of our terminal don't reach it.
func apart(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setsid: true} }
