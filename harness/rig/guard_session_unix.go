//go:build unix

package rig

import (
	"os/exec"
	"syscall"
)

// ownSession starts a process in its own session, so that signals of this terminal do not reach it.
func ownSession(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setsid: true} }
