package link

import "syscall"

// apart gives a program a process group of its own, and its end with the thread that started it: it must not
// outlive a drystage that was killed outright, board emulators that never look at their line included.
func apart() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}
