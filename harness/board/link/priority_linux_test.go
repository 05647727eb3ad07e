package link_test

import (
	"errors"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"drystage/harness/board/link"
)

// A program that is started while the bench has a real-time priority does not inherit it, else it would take the
// processors from everything else. Field 41 of /proc/PID/stat is the policy (proc(5)).
func TestAProgramHasNoRealTimePriority(t *testing.T) {
	done := make(chan error)
	var said string
	go func() {
		runtime.LockOSThread() // this thread ends with the goroutine
		err := unix.SchedSetAttr(0, &unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: unix.SCHED_FIFO, Priority: 1}, 0)
		if err == nil {
			var l link.Link
			if l, err = link.Open(t.Context(), "exec:sh -c 'cut -d\" \" -f41 /proc/self/stat; read end'", link.Options{}); err == nil {
				said = readUntil(t, l, func(got string) bool { return strings.Contains(got, "\n") })
				err = l.Close()
			}
		}
		done <- err
	}()
	err := <-done
	if errors.Is(err, unix.EPERM) {
		t.Skip("not permitted to have a real-time priority here")
	}
	require.NoError(t, err)
	assert.Equal(t, "0", strings.TrimSpace(said))
}
