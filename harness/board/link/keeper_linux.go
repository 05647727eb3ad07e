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

// Every program that holds this package can be a keeper: it is started anew under another name, a test's own binary
// too, and does nothing else.
func init() {
	if len(os.Args) > 2 && os.Args[0] == keeperName {
		os.Exit(keep(os.Args[1], os.Args[2:]))
	}
}

// keep is a keeper's life: it starts a program, obeys orders, tells how the program ended, and does not end before all
// that the program has started. Descriptor 3 gives the orders, 4 takes the news. A child whose parent ends becomes the
// keeper's own (PR_SET_CHILD_SUBREAPER, prctl(2)), so that none gets away by a session or a double fork.
func keep(path string, argv []string) int {
	orders, news := os.NewFile(3, "orders"), os.NewFile(4, "news")
	syscall.CloseOnExec(3)
	syscall.CloseOnExec(4)
	// Not ignored, which the program would inherit: a keeper that is asked to end does so when its bench has.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
	err := unix.Prctl(unix.PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)
	// It ends with the keeper's first thread, on which init runs.
	c := &exec.Cmd{Path: path, Args: argv, Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr,
		SysProcAttr: &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}}
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		fmt.Fprintf(news, "failed %v\n", err)
		return 1
	}
	fmt.Fprintln(news, "started")
	go obey(orders)
	_ = c.Wait() // how it ended is in its state
	sweep()
	status, sig := c.ProcessState.ExitCode(), 0
	if w, ok := c.ProcessState.Sys().(syscall.WaitStatus); ok && w.Signaled() {
		status, sig = 0, int(w.Signal())
	}
	fmt.Fprintf(news, "ended %d %d\n", status, sig)
	return 0
}

// obey does what it is told, and kills when nobody is there to tell.
func obey(orders *os.File) {
	b := make([]byte, 1)
	for {
		n, err := orders.Read(b)
		switch {
		case n == 1 && b[0] == orderEnd:
			signalAll(syscall.SIGTERM)
		case n == 1:
			signalAll(syscall.SIGKILL)
		case err != nil:
			for { // one may be starting another just now
				signalAll(syscall.SIGKILL)
				time.Sleep(time.Millisecond)
			}
		}
	}
}

// longestSweep bounds the wait for processes that the system itself holds.
const longestSweep = 5 * time.Second

// sweep kills and reaps whatever is left.
func sweep() {
	for began := time.Now(); time.Since(began) < longestSweep; time.Sleep(100 * time.Microsecond) {
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

// signalAll sends a signal to all that descends from this process.
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

// parentOf reads the parent from /proc/PID/stat: the second word behind the name in brackets, which may hold any byte (proc(5)).
func parentOf(stat []byte) (pid int, ok bool) {
	words := bytes.Fields(stat[bytes.LastIndexByte(stat, ')')+1:])
	if len(words) < 2 {
		return 0, false
	}
	pid, err := strconv.Atoi(string(words[1]))
	return pid, err == nil
}
