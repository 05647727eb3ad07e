package rig

import (
	"runtime"

	"golang.org/x/sys/unix"
)

// hurry puts the guard's thread before others as far as this machine permits: at a real-time priority, else at
// the highest ordinary one, else as one that wants little. It sleeps until the tool is gone and then works for less than a millisecond, so
// that it takes nothing from anybody. The guard then waits and acts on this thread alone.
func hurry() {
	runtime.LockOSThread()
	const priority = 50 // of 1 to 99 (sched(7)); above other work, below the kernel's own threads
	first := unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: unix.SCHED_FIFO, Flags: unix.SCHED_FLAG_RESET_ON_FORK, Priority: priority}
	// Of an ordinary thread the kernel (6.12 and later) takes Runtime as the slice that it wants, in ns: who wants a
	// short one is woken sooner. That needs no permission.
	short := unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: unix.SCHED_NORMAL, Nice: -20, Runtime: 100_000}
	if unix.SchedSetAttr(0, &first, 0) == nil || unix.SchedSetAttr(0, &short, 0) == nil {
		return
	}
	short.Nice = 0
	_ = unix.SchedSetAttr(0, &short, 0) // without it the guard is as quick as others
}
