//go:build unix

package loop

import (
	"os"
	"syscall"
)

// ring interrupts a process without harm: Go uses this signal itself, and expects strays.
func ring(p *os.Process) { _ = p.Signal(syscall.SIGURG) }
