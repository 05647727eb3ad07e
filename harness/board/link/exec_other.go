//go:build !(linux || darwin || freebsd)

package link

import (
	"fmt"
	"runtime"
)

func openExec(line string, _ Options) (Link, error) {
	return nil, fmt.Errorf("link: exec:%s: %s has no pseudo-terminals; let the program listen, and use tcp:HOST:PORT", line, runtime.GOOS)
}

// HasProcesses says whether exec: works on this platform.
const HasProcesses = false
