//go:build !(linux || darwin || freebsd)

package link

import (
	"errors"
	"fmt"
	"runtime"
	"time"
)

// claimed is empty here: the platform opens ports for one program only by itself, and writes are the
// library's, which are not bounded in time on this platform.
type claimed struct{}

func claim(string) (*claimed, error) { return &claimed{}, nil }

func (*claimed) Write([]byte) (int, error) { return 0, errors.ErrUnsupported }
func (*claimed) Close() error              { return nil }
func (*claimed) bounded() bool             { return false }
func (*claimed) bound(time.Time)           {}
func (*claimed) runsAt(int) error          { return nil }

func isBusy(error) bool { return false }

func permission(string, []Port) string {
	return fmt.Sprintf("%s does not let you use this port; look at its driver and its owner", runtime.GOOS)
}
