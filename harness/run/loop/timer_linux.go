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

// monotonic waits for absolute times of CLOCK_MONOTONIC, which Go's clock reads too.
//
// Go's scheduler can delay a thread in two ways. First, it gives the thread's slot (a P in Go's runtime) to another thread
// during a system call: so the call that sleeps is a raw one, which the scheduler does not notice. Second, it preempts a
// goroutine that has run for 10 ms, even if it sleeps; a locked thread then gets a slot back only through another thread,
// which has a low priority and may take milliseconds. So the goroutine is pinned while it waits: the preemption then
// happens after its next system call, when a frame has been sent.
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

// waitUntil must not block in another way while it is pinned.
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

// The runtime keeps these two available to linkname (see its proc.go). The empty file pin_linux.s allows functions
// without a body.
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

// requestPriority requests priority, locked memory and short wake-up times from the system, and tells what was granted. The thread
// must be locked to its goroutine.
func requestPriority(ordinary bool) (granted []string, undo func()) {
	var back []func()
	if err := unix.Prctl(unix.PR_SET_TIMERSLACK, 1, 0, 0, 0); err == nil {
		granted = append(granted, "timer slack 1 ns")
		back = append(back, func() { _ = unix.Prctl(unix.PR_SET_TIMERSLACK, 0, 0, 0, 0) })
	}
	if f, err := preventIdle(); err == nil {
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

// preventIdle keeps processors out of idle states that take time to leave, as long as the file is open, by a latency limit of
// 0 us (the kernel's documentation, power/pm_qos_interface). A processor of a virtual machine then never halts, so its
// host keeps it running.
func preventIdle() (*os.File, error) {
	f, err := os.OpenFile("/dev/cpu_dma_latency", os.O_WRONLY, 0)
	if err != nil {
		return nil, err
	}
	if _, err := f.Write(make([]byte, 4)); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// promote gives this thread its priority and the other threads of the process a lower one. Without that they would, on a
// busy machine, take tens of milliseconds to hand back a scheduler slot or to read a board's answer. New threads inherit
// it.
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

// setAll sets all threads of this process as far as it may, and repeats that for threads started meanwhile.
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

// lock prevents memory from being swapped out. It does nothing if the system limits locked memory: beyond the limit every
// later allocation would fail.
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
