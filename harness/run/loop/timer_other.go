//go:build !linux

package loop

import (
	"runtime"
	"time"
)

func systemTimer() timer { return &goTimer{time.Now()} }

// requestPriority asks for nothing here, and says so.
func requestPriority(bool) (granted []string, undo func()) {
	return []string{"ordinary priority (no other way is built in for " + runtime.GOOS + ")"}, func() {}
}
