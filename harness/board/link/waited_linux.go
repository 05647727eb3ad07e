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

// waits adds up how long a process, its threads and all that descends from it have waited for a processor while they
// could have run, and the thread that asks with them: the second number of /proc/PID/task/TID/schedstat, in ns (the kernel's documentation, sched-stats).
type waits struct {
	pid    int
	tasks  map[int]*task
	mine   map[int]*task // threads of this process that have asked
	looked time.Time
	text   [128]byte
}

type task struct {
	stat *os.File // nil: it has ended
	ns   int64    // when it was read last
}

// seldom is how often new threads and processes are looked for while nobody asks for exactness.
const seldom = 100 * time.Millisecond

// total is how long they have waited until now. Without exact it may miss those that are new.
func (w *waits) total(exact bool) time.Duration {
	if now := time.Now(); exact || now.Sub(w.looked) > seldom {
		w.looked = now
		w.look(w.pid)
	}
	sum := w.own()
	for _, t := range w.tasks {
		if t.stat != nil && !w.read(t) {
			t.stat.Close()
			t.stat = nil
		}
		sum += t.ns
	}
	return time.Duration(sum)
}

// own is how long the thread that asks has waited itself.
func (w *waits) own() int64 {
	tid := unix.Gettid()
	t := w.mine[tid]
	if t == nil {
		f, err := os.Open("/proc/self/task/" + strconv.Itoa(tid) + "/schedstat")
		if err != nil {
			return 0
		}
		t = &task{stat: f}
		w.mine[tid] = t
	}
	w.read(t)
	return t.ns
}

// read is false when a task has ended.
func (w *waits) read(t *task) bool {
	n, _ := t.stat.ReadAt(w.text[:], 0) // io.EOF each time
	words := bytes.Fields(w.text[:n])
	if len(words) < 2 {
		return false
	}
	ns, err := strconv.ParseInt(string(words[1]), 10, 64)
	t.ns = max(t.ns, ns)
	return err == nil
}

// look finds the threads of a process, and those of its children.
func (w *waits) look(pid int) {
	threads, _ := filepath.Glob("/proc/" + strconv.Itoa(pid) + "/task/[0-9]*")
	for _, dir := range threads {
		tid, err := strconv.Atoi(filepath.Base(dir))
		if err != nil {
			continue
		}
		if w.tasks[tid] == nil {
			f, err := os.Open(filepath.Join(dir, "schedstat"))
			if err != nil {
				continue // it has ended, or the kernel does not count
			}
			w.tasks[tid] = &task{stat: f}
		}
		text, _ := os.ReadFile(filepath.Join(dir, "children"))
		for _, child := range strings.Fields(string(text)) {
			if n, err := strconv.Atoi(child); err == nil {
				w.look(n)
			}
		}
	}
}

func (w *waits) close() {
	for _, tasks := range []map[int]*task{w.tasks, w.mine} {
		for _, t := range tasks {
			if t.stat != nil {
				t.stat.Close()
			}
		}
		clear(tasks)
	}
}
