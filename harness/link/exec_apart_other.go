//go:build darwin || freebsd

package link

import "syscall"

// apart gives a program a process group of its own. When drystage is killed outright it learns so from the
// end of its line only: asking the system to end it is done on Linux alone.
func apart() *syscall.SysProcAttr { return &syscall.SysProcAttr{Setpgid: true} }
