//go:build !unix

package main

import "os"

// askSignals are the signals by which people ask how far a command is: none here.
func askSignals() []os.Signal { return nil }
