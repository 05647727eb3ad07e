package loop

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// monotonic waits for absolute times of CLOCK_MONOTONIC, which is what Go's own clock reads too.
//
// Go's scheduler would do two things to a thread that must be in time. It gives its seat away during a
// system call, so the call that sleeps is a raw one, of which it is not told. And it takes the seat from
// a goroutine that has had it for 10 ms, asleep or not; to a thread that is locked, a seat comes
// back by way of another thread, which has no priority and may be milliseconds away. So the goroutine is
// pinned while it waits, and such a request is put off until its next system call has returned: after
// a frame has left.
type monotonic struct {
	goTimer
	ahead int64 // of CLOCK_MONOTONIC, ns
}

func systemTimer() timer {
	m := &monotonic{goTimer: goTimer{time.Now()}}
	var t unix.Timespec
	_ = unix.ClockGettime(unix.CLOCK_MONOTONIC, &t) // can't fail with this clock
	m.ahead = t.Nano() - m.now()
	return m
}

// waitUntil must not block in any other way while it is pinned.
func (m *monotonic) waitUntil(t, awake int64) int64 {
	procPin()
	defer procUnpin()
	for m.now() < t-awake { // a signal ends a sleep early
		at := unix.NsecToTimespec(t - awake + m.ahead)
		_, _, _ = unix.RawSyscall6(unix.SYS_CLOCK_NANOSLEEP, unix.CLOCK_MONOTONIC, unix.TIMER_ABSTIME,
			uintptr(unsafe.Pointer(&at)), 0, 0, 0)
	}
	return spin(m, t)
}

// The runtime keeps these two for programs that reach for them (see its proc.go). The empty file pin_linux.s
// lets a function be declared without a body.
//
//go:linkname procPin runtime.procPin
func procPin() int

//go:linkname procUnpin runtime.procUnpin
func procUnpin()

const (
	priority = 80 // of SCHED_FIFO, of 1 to 99
	others   = 10 // of the other threads
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
	if f, err := wakeful(); err == nil {
		granted = append(granted, "processors kept from idle states")
		back = append(back, func() { _ = f.Close() })
	} else {
		granted = append(granted, "processors not kept from idle states ("+err.Error()+")")
	}
	undo = func() {
		for _, f := range back {
			f()
		}
	}
	if ordinary {
		return append(granted, "ordinary priority"), undo
	}
	if was, err := promote(); err == nil {
		granted = append(granted, fmt.Sprintf("SCHED_FIFO %d", priority))
		back = append(back, func() { setAll(was) })
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

// wakeful keeps processors from idle states that take time to leave, for as long as the file is open: a bound of
// 0 us on the latency of all of them (the kernel's documentation, power/pm_qos_interface). A processor of a virtual
// machine then never halts, so that its host has no reason to give it away.
func wakeful() (*os.File, error) {
	f, err := os.OpenFile("/dev/cpu_dma_latency", os.O_WRONLY, 0)
	if err != nil {
		return nil, err
	}
	if _, err := f.Write(make([]byte, 4)); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// promote gives this thread its priority, and the process's others a lower one: on a busy machine they
// would be tens of milliseconds late to hand a seat back, or to read what a board says. Threads yet to
// come have it from these.
func promote() (was *unix.SchedAttr, err error) {
	if was, err = unix.SchedGetAttr(0, 0); err != nil {
		return nil, err
	}
	mine := unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: fifo, Priority: priority}
	theirs := mine
	theirs.Priority = others
	if err := unix.SchedSetAttr(0, &mine, 0); err != nil {
		return nil, err
	}
	setAll(&theirs)
	return was, unix.SchedSetAttr(0, &mine, 0)
}

// setAll sets all threads of this process, as far as it may, and looks again for those that were born
// meanwhile of one not yet set.
func setAll(to *unix.SchedAttr) {
	for changed, rounds := true, 0; changed && rounds < 10; rounds++ {
		changed = false
		tasks, _ := os.ReadDir("/proc/self/task")
		for _, t := range tasks {
			tid, err := strconv.Atoi(t.Name())
			if err != nil {
				continue
			}
			is, err := unix.SchedGetAttr(tid, 0)
			if err == nil && (is.Policy != to.Policy || is.Priority != to.Priority) {
				changed = unix.SchedSetAttr(tid, to, 0) == nil || changed
			}
		}
	}
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
