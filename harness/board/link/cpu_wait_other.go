//go:build darwin || freebsd

package link

import "time"

// cpuWait is empty here: no system call tells how long another process has waited for a processor.
type cpuWait struct{}

func (*cpuWait) total(bool) time.Duration { return 0 }
func (*cpuWait) close()                   {}
