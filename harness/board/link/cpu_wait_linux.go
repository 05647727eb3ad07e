package link

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// cpuWait adds up how long the threads of a supervisor's descendants have been ready to run but waited for a processor,
// and with them the calling threads. The supervisor's own threads only wait for commands. It is the second number of
// /proc/PID/task/TID/schedstat, in ns (kernel documentation, sched-stats).
type cpuWait struct {
	pid        int // of the supervisor
	tasks      map[int]*task
	ownThreads map[int]*task // threads of this process that have called
	foundAt    time.Time
	readAt     time.Time
	sum        int64 // of tasks, when last read
	text       [128]byte
}

type task struct {
	stat *os.File // nil: the task has ended
	ns   int64    // when last read
}

// How often new threads and processes are looked for, and how often all are read, if the caller does not need an exact
// result. To read them all before each question took as long as a board's answer.
const (
	findEvery = 100 * time.Millisecond
	readEvery = time.Millisecond
)

// total is how long they have waited until now. Without exact it may miss new ones, and be as old as readEvery.
func (w *cpuWait) total(exact bool) time.Duration {
	now := time.Now()
	if exact || now.Sub(w.foundAt) > findEvery {
		w.foundAt = now
		w.findTasks(w.pid, false)
	}
	if exact || now.Sub(w.readAt) > readEvery {
		w.readAt, w.sum = now, 0
		for _, t := range w.tasks {
			if t.stat != nil && !w.read(t) {
				t.stat.Close()
				t.stat = nil
			}
			w.sum += t.ns
		}
	}
	return time.Duration(w.sum + w.ownWait())
}

// ownWait is how long the calling thread has waited.
func (w *cpuWait) ownWait() int64 {
	tid := unix.Gettid()
	t := w.ownThreads[tid]
	if t == nil {
		f, err := os.Open("/proc/self/task/" + strconv.Itoa(tid) + "/schedstat")
		if err != nil {
			return 0
		}
		t = &task{stat: f}
		w.ownThreads[tid] = t
	}
	w.read(t)
	return t.ns
}

// read reads a task's waiting time; false if the task has ended.
func (w *cpuWait) read(t *task) bool {
	n, err := unix.Pread(int(t.stat.Fd()), w.text[:], 0)
	if err != nil {
		return false
	}
	_, rest, _ := bytes.Cut(w.text[:n], []byte(" "))
	wait, _, found := bytes.Cut(rest, []byte(" "))
	if !found {
		return false
	}
	ns, err := strconv.ParseInt(string(wait), 10, 64)
	t.ns = max(t.ns, ns)
	return err == nil
}

// findTasks finds the threads of a process, if they count, and those of its children.
func (w *cpuWait) findTasks(pid int, counts bool) {
	threads, _ := filepath.Glob("/proc/" + strconv.Itoa(pid) + "/task/[0-9]*")
	for _, dir := range threads {
		tid, err := strconv.Atoi(filepath.Base(dir))
		if err != nil {
			continue
		}
		if counts && w.tasks[tid] == nil {
			f, err := os.Open(filepath.Join(dir, "schedstat"))
			if err != nil {
				continue // it has ended, or the kernel does not count
			}
			w.tasks[tid] = &task{stat: f}
		}
		text, _ := os.ReadFile(filepath.Join(dir, "children"))
		for _, child := range strings.Fields(string(text)) {
			if n, err := strconv.Atoi(child); err == nil {
				w.findTasks(n, true)
			}
		}
	}
}

func (w *cpuWait) close() {
	for _, tasks := range []map[int]*task{w.tasks, w.ownThreads} {
		for _, t := range tasks {
			if t.stat != nil {
				t.stat.Close()
			}
		}
		clear(tasks)
	}
}
