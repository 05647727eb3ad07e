//go:build !(linux || darwin || freebsd)

package link

import (
	"errors"
	"fmt"
	"runtime"
	"time"
)

// lockedPort is empty here: the platform itself opens a port for one program only, and the library's writes can't be
// bounded in time.
type lockedPort struct{}

func lockPort(string) (*lockedPort, error) { return &lockedPort{}, nil }

func (*lockedPort) Write([]byte) (int, error) { return 0, errors.ErrUnsupported }
func (*lockedPort) Close() error              { return nil }
func (*lockedPort) canBoundWrites() bool      { return false }
func (*lockedPort) boundWrite(time.Time)      {}
func (*lockedPort) checkSpeed(int) error      { return nil }

func isBusy(error) bool { return false }

func permission(string, []Port) string {
	return fmt.Sprintf("%s does not let you use this port; look at its driver and its owner", runtime.GOOS)
}
