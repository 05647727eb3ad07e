//go:build !unix

package bench

import (
	"os"
	"time"
)

// ring does nothing where there are no such signals.
func ring(*os.Process) { time.Sleep(time.Millisecond) }
