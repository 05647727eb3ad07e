//go:build !(linux || darwin || freebsd)

package link

import (
	"fmt"
	"runtime"
)

func openExec(line string, _ Options) (Link, error) {
	return nil, fmt.Errorf("link: exec:%s: programs can't be started and supervised on %s; let the program listen, and use tcp:HOST:PORT", line, runtime.GOOS)
}

// HasProcesses says whether exec: works on this platform.
const HasProcesses = false
