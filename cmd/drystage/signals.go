package main

import (
	"os"
	"os/signal"
	"syscall"
)

// ignoreSignals keeps the guard alive through what ends the tool.
func ignoreSignals() { signal.Ignore(os.Interrupt, syscall.SIGTERM, syscall.SIGHUP) }
