//go:build linux || darwin || freebsd

package link

import (
	"errors"
	"fmt"
	"os"
	"os/user"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// lockedPort is a second descriptor of the port. It holds an advisory lock, since the exclusive mode of a terminal
// does not stop root. It also writes, because its writes can be bounded in time and ended by Close, even if nobody
// reads.
type lockedPort struct {
	*os.File
	canBound bool // its writes can be bounded in time
}

// lockPort takes a port for this program alone.
func lockPort(name string) (*lockedPort, error) {
	f, err := os.OpenFile(name, os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	c := &lockedPort{File: f, canBound: f.SetWriteDeadline(time.Time{}) == nil}
	if err := c.withDescriptor(func(fd int) error { return syscall.Flock(fd, syscall.LOCK_EX|syscall.LOCK_NB) }); err != nil {
		f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, errBusy
		}
		return nil, err
	}
	return c, nil
}

// withDescriptor calls f with the descriptor, and keeps it non-blocking (os.File's Fd would change that).
func (c *lockedPort) withDescriptor(f func(fd int) error) error {
	raw, err := c.SyscallConn()
	if err != nil {
		return err
	}
	var inner error
	if err := raw.Control(func(fd uintptr) { inner = f(int(fd)) }); err != nil {
		return err
	}
	return inner
}

func (c *lockedPort) canBoundWrites() bool { return c.canBound }

func (c *lockedPort) boundWrite(t time.Time) {
	if c.canBound {
		_ = c.SetWriteDeadline(t)
	}
}

// checkSpeed compares the wanted speed with the one that the driver has set.
func (c *lockedPort) checkSpeed(baud int) error {
	return c.withDescriptor(func(fd int) error {
		got, ok := speedOf(fd)
		if ok && !sameSpeed(got, baud) {
			return fmt.Errorf("the port runs at %d baud where %d was asked; choose a speed that its chip can make", got, baud)
		}
		return nil
	})
}

// sameSpeed says that two speeds differ by at most 2 %, which receivers of 10-bit frames tolerate. Common practice.
func sameSpeed(got, want int) bool { return 50*max(got-want, want-got) <= want }

func isBusy(err error) bool { return errors.Is(err, syscall.EBUSY) }

// permission says which group may use a port, and how to join it.
func permission(name string, ports []Port) string {
	group, mode := "dialout", ""
	if info, err := os.Stat(name); err == nil {
		if st, ok := info.Sys().(*syscall.Stat_t); ok {
			group = groupName(st.Gid)
			mode = fmt.Sprintf(" (mode %04o)", info.Mode().Perm())
		}
	}
	rule := `KERNEL=="` + strings.TrimPrefix(name, "/dev/") + `"`
	for _, p := range ports {
		if p.Name == name && p.USB {
			rule = fmt.Sprintf(`ATTRS{idVendor}=="%04x", ATTRS{idProduct}=="%04x"`, p.ID.Vendor, p.ID.Product)
		}
	}
	if group == "root" {
		group = "dialout"
		mode += " and no group but root"
	}
	return fmt.Sprintf("the port belongs to group %s%s: join it with `sudo usermod -aG %s $USER` and log in again, or put this line into /etc/udev/rules.d/70-drystage.rules, say `sudo udevadm control --reload` and plug the board in again:\n"+
		`  SUBSYSTEM=="tty", %s, GROUP="%s", MODE="0660", TAG+="uaccess"`, group, mode, group, rule, group)
}

func groupName(gid uint32) string {
	id := strconv.FormatUint(uint64(gid), 10)
	if g, err := user.LookupGroupId(id); err == nil {
		return g.Name
	}
	return id
}
