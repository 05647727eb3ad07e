package link

import "golang.org/x/sys/unix"

// speedOf asks the driver for the speed that it sends at.
func speedOf(fd int) (baud int, ok bool) {
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS2)
	if err != nil {
		return 0, false
	}
	return int(t.Ospeed), true
}
