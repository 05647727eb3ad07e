//go:build unix

package main

import (
	"os"
	"syscall"
)

// askSignals are the signals by which people ask how far a command is.
func askSignals() []os.Signal { return []os.Signal{syscall.SIGUSR1} }
