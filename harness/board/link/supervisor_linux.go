package link

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// Every program with this package can be a supervisor, a test's binary too: it is started again under another name,
// and does nothing else.
func init() {
	if len(os.Args) > 2 && os.Args[0] == supervisorName {
		os.Exit(supervise(os.Args[1], os.Args[2:]))
	}
}

// supervise is the main function of a supervisor. It starts a program, obeys commands, reports how the program ended,
// and does not end before everything that the program has started. Descriptor 3 gives the commands, 4 takes the
// reports. A process whose parent ends becomes the supervisor's child (PR_SET_CHILD_SUBREAPER, prctl(2)), so that
// none escapes by a new session or a double fork.
func supervise(path string, argv []string) int {
	orders, news := os.NewFile(3, "orders"), os.NewFile(4, "news")
	syscall.CloseOnExec(3)
	syscall.CloseOnExec(4)
	// Signals are caught, since the program would inherit that they are ignored. The supervisor ends with its bench.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
	ordinaryPriority()
	err := unix.Prctl(unix.PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)
	// The program ends with the supervisor's first thread (Pdeathsig); init runs on that thread.
	c := &exec.Cmd{Path: path, Args: argv, Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr,
		SysProcAttr: &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}}
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		fmt.Fprintf(news, "failed %v\n", err)
		return 1
	}
	_, _ = os.Stdin.Close(), os.Stdout.Close() // the program's own, so that the bench sees when it closes them
	fmt.Fprintln(news, "started")
	go handleCommands(orders)
	_ = c.Wait() // ProcessState has the result
	reapAll()
	status, sig := c.ProcessState.ExitCode(), 0
	if w, ok := c.ProcessState.Sys().(syscall.WaitStatus); ok && w.Signaled() {
		status, sig = 0, int(w.Signal())
	}
	fmt.Fprintf(news, "ended %d %d\n", status, sig)
	return 0
}

// ordinaryPriority gives up a real-time priority that the bench had when it started this process: a board, or an emulator
// of one, with such a priority would take the processors from everything else, the bench included.
func ordinaryPriority() {
	a, err := unix.SchedGetAttr(0, 0)
	if err == nil && (a.Policy == unix.SCHED_FIFO || a.Policy == unix.SCHED_RR) {
		_ = unix.SchedSetAttr(0, &unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: unix.SCHED_NORMAL}, 0)
	}
}

// handleCommands does what it is told, and kills everything when the bench has ended.
func handleCommands(orders *os.File) {
	b := make([]byte, 1)
	for {
		n, err := orders.Read(b)
		switch {
		case n == 1 && b[0] == commandTerminate:
			signalAll(syscall.SIGTERM)
		case n == 1:
			signalAll(syscall.SIGKILL)
		case err != nil:
			for { // a process may be starting another one just now
				signalAll(syscall.SIGKILL)
				time.Sleep(time.Millisecond)
			}
		}
	}
}

// reapTimeout limits the wait for processes that the system itself holds.
const reapTimeout = 5 * time.Second

// reapAll kills and reaps all remaining processes.
func reapAll() {
	for began := time.Now(); time.Since(began) < reapTimeout; time.Sleep(100 * time.Microsecond) {
		for {
			pid, err := syscall.Wait4(-1, nil, syscall.WNOHANG, nil)
			if errors.Is(err, syscall.ECHILD) {
				return
			}
			if pid <= 0 && !errors.Is(err, syscall.EINTR) {
				break
			}
		}
		signalAll(syscall.SIGKILL)
	}
}

// signalAll sends a signal to all descendants of this process.
func signalAll(s syscall.Signal) {
	children := map[int][]int{}
	stats, _ := filepath.Glob("/proc/[0-9]*/stat")
	for _, name := range stats {
		text, err := os.ReadFile(name)
		if err != nil {
			continue // it has ended
		}
		pid, _ := strconv.Atoi(filepath.Base(filepath.Dir(name)))
		if parent, ok := parentOf(text); ok {
			children[parent] = append(children[parent], pid)
		}
	}
	for next := children[os.Getpid()]; len(next) > 0; next = append(next[1:], children[next[0]]...) {
		_ = syscall.Kill(next[0], s)
	}
}

// parentOf reads the parent from /proc/PID/stat: the second word after the name in brackets, which may hold any byte
// (proc(5)).
func parentOf(stat []byte) (pid int, ok bool) {
	words := bytes.Fields(stat[bytes.LastIndexByte(stat, ')')+1:])
	if len(words) < 2 {
		return 0, false
	}
	pid, err := strconv.Atoi(string(words[1]))
	return pid, err == nil
}
