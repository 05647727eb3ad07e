//go:build unix

package main

import (
	"errors"
	"fmt"
	"os/exec"
	"strconv"
	"syscall"
	"time"
)

// cpuTimeSince gives the processor time of this process, minus before.
func cpuTimeSince(before time.Duration) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano()+u.Stime.Nano()) - before
}

// measureCyclictest measures cyclictest, which waits for absolute deadlines in C.
func (c *paceCmd) measureCyclictest(realTime bool) func(*console) (measured, error) {
	return func(d *console) (measured, error) {
		m := measured{way: "C loop (cyclictest), ordinary"}
		args := []string{"--quiet", "--threads=1", "--histogram=50000", "--interval=" + strconv.Itoa(1_000_000/c.Rate),
			"--loops=" + strconv.Itoa(int(c.For.Seconds()*float64(c.Rate)))}
		if realTime {
			m.way = "C loop (cyclictest), real-time"
			args = append(args, "--mlockall", "--priority=80", "--policy=fifo")
		} else {
			args = append(args, "--policy=other")
		}
		cmd := exec.CommandContext(d.ctx, "cyclictest", args...)
		out, err := cmd.Output()
		switch {
		case errors.Is(err, exec.ErrNotFound):
			m.note = "not installed (Debian: rt-tests)"
			return m, nil
		case d.ctx.Err() != nil:
			return m, status{unsure, errors.New("interrupted")}
		case err != nil:
			m.note = fmt.Sprintf("it failed: %v", err)
			return m, nil
		}
		m.late, _ = histogram(string(out))
		m.busy = (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds() / c.For.Seconds()
		if len(m.late) == 0 {
			m.note = "it printed no histogram"
		}
		return m, nil
	}
}
