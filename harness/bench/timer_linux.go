package bench

import (
	"fmt"
	"unsafe"

	"golang.org/x/sys/unix"
)

// monotonic sleeps to absolute times of CLOCK_MONOTONIC by a system call that Go's scheduler is not
// told of: it hands the thread's seat to nobody, and so has it back at once.
type monotonic struct{}

func systemTimer() timer { return monotonic{} }

func (monotonic) now() int64 {
	var t unix.Timespec
	_ = unix.ClockGettime(unix.CLOCK_MONOTONIC, &t) // can't fail with this clock
	return t.Nano()
}

func (monotonic) sleepUntil(until int64) {
	t := unix.NsecToTimespec(until)
	for {
		_, _, errno := unix.RawSyscall6(unix.SYS_CLOCK_NANOSLEEP, unix.CLOCK_MONOTONIC, unix.TIMER_ABSTIME,
			uintptr(unsafe.Pointer(&t)), 0, 0, 0)
		if errno != unix.EINTR {
			return
		}
	}
}

const (
	priority = 80 // of SCHED_FIFO, of 1 to 99
	others   = 0  // SCHED_OTHER
	fifo     = 1  // SCHED_FIFO
)

// claim asks the system for what keeps a thread in time, and says what it got. The thread must be
// locked to its goroutine.
func claim(ordinary bool) (granted []string, undo func()) {
	var back []func()
	if err := unix.Prctl(unix.PR_SET_TIMERSLACK, 1, 0, 0, 0); err == nil {
		granted = append(granted, "timer slack 1 ns")
		back = append(back, func() { _ = unix.Prctl(unix.PR_SET_TIMERSLACK, 0, 0, 0, 0) })
	}
	undo = func() {
		for _, f := range back {
			f()
		}
	}
	if ordinary {
		return append(granted, "ordinary priority"), undo
	}
	if err := unix.SchedSetAttr(0, &unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: fifo, Priority: priority}, 0); err == nil {
		granted = append(granted, fmt.Sprintf("SCHED_FIFO %d", priority))
		back = append(back, func() { _ = unix.SchedSetAttr(0, &unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: others}, 0) })
	} else {
		granted = append(granted, "ordinary priority (SCHED_FIFO: "+err.Error()+")")
	}
	if err := lock(); err == nil {
		granted = append(granted, "memory locked")
		back = append(back, func() { _ = unix.Munlockall() })
	} else {
		granted = append(granted, "memory not locked ("+err.Error()+")")
	}
	return granted, undo
}

// lock keeps memory from being swapped out. Where the system bounds what may be locked, it does not:
// beyond the bound every later request for memory would fail.
func lock() error {
	var limit unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_MEMLOCK, &limit); err != nil {
		return err
	}
	if limit.Cur != unix.RLIM_INFINITY && unix.Geteuid() != 0 {
		return fmt.Errorf("at most %d KiB may be", limit.Cur/1024)
	}
	return unix.Mlockall(unix.MCL_CURRENT | unix.MCL_FUTURE | unix.MCL_ONFAULT)
}
