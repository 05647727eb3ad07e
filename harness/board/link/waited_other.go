//go:build darwin || freebsd

package link

import "time"

// waits knows nothing here: no system call tells how long another process has waited for a processor.
type waits struct{}

func (*waits) total(bool) time.Duration { return 0 }
func (*waits) close()                   {}
