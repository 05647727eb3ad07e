package rig

import (
	"runtime"

	"golang.org/x/sys/unix"
)

// raisePriority gives the guard's thread the highest priority that this computer permits: a real-time priority, else
// the best nice value, else a short time slice. The guard sleeps until the tool has ended and then works for less
// than a millisecond, so it takes no time from other programs. From then on it stays on this thread.
func raisePriority() {
	runtime.LockOSThread()
	const priority = 50 // of 1 to 99 (sched(7)); above other work, below the kernel's own threads
	first := unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: unix.SCHED_FIFO, Flags: unix.SCHED_FLAG_RESET_ON_FORK, Priority: priority}
	// From Linux 6.12 on, Runtime of an ordinary thread is its wanted time slice, in ns. A thread with a short slice
	// is woken sooner. This needs no permission.
	short := unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: unix.SCHED_NORMAL, Nice: -20, Runtime: 100_000}
	if unix.SchedSetAttr(0, &first, 0) == nil || unix.SchedSetAttr(0, &short, 0) == nil {
		return
	}
	short.Nice = 0
	_ = unix.SchedSetAttr(0, &short, 0) // without it the guard has the usual priority
}
