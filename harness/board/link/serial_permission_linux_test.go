package link_test

import (
	"os"
	"os/user"
	"runtime"
	"strconv"
	"syscall"
	"testing"

	"drystage/harness/board/link"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A port that this user may not open: the message names the group and prints a udev rule.
func TestPermissionDenied(t *testing.T) {
	_, path := cable(t)
	real, err := os.Readlink(path)
	require.NoError(t, err)
	require.NoError(t, os.Chmod(real, 0))
	if tty, err := user.LookupGroup("tty"); err == nil && os.Getuid() == 0 {
		gid, err := strconv.Atoi(tty.Gid)
		require.NoError(t, err)
		require.NoError(t, os.Chown(real, 0, gid))
	}
	ports := []link.Port{{Name: real, USB: true, ID: link.Identity{Vendor: 0x1209, Product: 0xabcd}}}
	open := func() error {
		_, err := link.Open(t.Context(), "serial:"+real, link.Options{Ports: func() ([]link.Port, error) { return ports, nil }})
		return err
	}
	err = asNobody(open)
	require.ErrorContains(t, err, "permission denied; the port belongs to group ")
	if os.Getuid() == 0 {
		assert.ErrorContains(t, err, "group tty (mode 0000): join it with `sudo usermod -aG tty $USER`")
	}
	assert.ErrorContains(t, err, "70-drystage.rules")
	assert.ErrorContains(t, err, `SUBSYSTEM=="tty", ATTRS{idVendor}=="1209", ATTRS{idProduct}=="abcd", GROUP="`)
}

// asNobody calls f on a thread whose file rights are those of a user without any.
func asNobody(f func() error) error {
	got := make(chan error)
	go func() {
		runtime.LockOSThread() // and never unlocked: the thread ends with the goroutine
		if os.Getuid() == 0 {
			if err := syscall.Setfsuid(65534); err != nil {
				got <- err
				return
			}
			_ = syscall.Setfsgid(65534)
		}
		got <- f()
	}()
	return <-got
}
