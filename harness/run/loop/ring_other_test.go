//go:build !unix

package loop

import (
	"os"
	"time"
)

// ring does nothing where there are no such signals.
func ring(*os.Process) { time.Sleep(time.Millisecond) }
