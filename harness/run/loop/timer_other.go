//go:build !linux

package loop

import (
	"runtime"
	"time"
)

func systemTimer() timer { return &goTimer{time.Now()} }

// claim asks for nothing here, and says so.
func claim(bool) (granted []string, undo func()) {
	return []string{"ordinary priority (no other way is built in for " + runtime.GOOS + ")"}, func() {}
}
