//go:build linux || darwin || freebsd

package link

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"sync/atomic"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

const (
	livenessInterval = 20 * time.Millisecond  // how often a waiting Read checks whether the program has ended
	shortestWait     = time.Microsecond       // of a socket; 0 would be for ever
	endGrace         = 20 * time.Millisecond  // for a program to end by itself after BYE
	hangUpGrace      = 5 * time.Second        // from hanging up to SIGTERM
	termGrace        = 300 * time.Millisecond // from SIGTERM to SIGKILL
	reapGrace        = 5 * time.Second        // from the end of a program's line to that of the program, and of all it has started
	stderrGrace      = 250 * time.Millisecond // to read the rest of standard error after the end
)

// process is a program whose standard input and output are one end of a pair of sockets; ours is the other. Calls block
// in the system, with time-outs of the socket: a wait in Go's own poller, or a pseudo-terminal, would pass each frame
// through more threads, which takes several times as long.
type process struct {
	line     *os.File
	timeout  time.Duration // of reading, as the socket has it
	closed   atomic.Bool
	program  string
	run      *program
	stderr   *stderrTail
	deadline time.Time
}

// program is a program that was started. end is set once ended is closed; all that it has started has ended then,
// too.
type program struct {
	ended   chan struct{}
	end     End
	cpuWait cpuWait
	signal  func(syscall.Signal) // sends SIGTERM or SIGKILL to the program and to all that it has started
}

func (r *program) hasEnded() bool {
	select {
	case <-r.ended:
		return true
	default:
		return false
	}
}

// endsWithin waits for the program's end.
func (r *program) endsWithin(d time.Duration) bool {
	select {
	case <-r.ended:
		return true
	case <-time.After(d):
		return false
	}
}

// openExec starts a program whose standard input and output are our link.
func openExec(line string, opt Options) (Link, error) {
	argv, err := split(line)
	if err != nil {
		return nil, fmt.Errorf("link: exec:%s: %w", line, err)
	}
	ours, theirs, err := socketPair()
	if err != nil {
		return nil, fmt.Errorf("link: exec:%s: no pair of sockets: %w", line, err)
	}
	defer theirs.Close()
	c := &process{line: ours, program: argv[0], stderr: &stderrTail{copy: opt.Stderr}}
	look := exec.Command(argv[0])
	if err = look.Err; err == nil {
		c.run, err = start(append([]string{look.Path}, argv...), theirs, c.stderr)
	}
	if err != nil {
		ours.Close()
		return nil, fmt.Errorf("link: exec:%s: %w; give the program's path, words with blanks in quotes", line, err)
	}
	return c, nil
}

// socketPair gives two connected sockets, which no program inherits by itself. Writing to ours takes stallTime at most.
func socketPair() (ours, theirs *os.File, err error) {
	opening.Lock()
	fds, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_STREAM, 0)
	if err == nil {
		unix.CloseOnExec(fds[0])
		unix.CloseOnExec(fds[1])
	}
	opening.Unlock()
	if err != nil {
		return nil, nil, os.NewSyscallError("socketpair", err)
	}
	limit := unix.NsecToTimeval(stallTime.Nanoseconds())
	err = unix.SetsockoptTimeval(fds[0], unix.SOL_SOCKET, unix.SO_SNDTIMEO, &limit)
	ours, theirs = os.NewFile(uintptr(fds[0]), "line"), os.NewFile(uintptr(fds[1]), "line")
	if err != nil {
		return nil, nil, errors.Join(os.NewSyscallError("setsockopt", err), ours.Close(), theirs.Close())
	}
	return ours, theirs, nil
}

// startInheritingNothing starts a command that inherits no descriptors but those it is given.
func startInheritingNothing(c *exec.Cmd) error {
	opening.Lock()
	defer opening.Unlock()
	closeOnExec()
	return c.Start()
}

// closeOnExec marks all our descriptors to be closed in programs that we start. The serial library does not do that.
// A program that inherits the slave side of its own pseudo-terminal would not notice our end, and would run on.
func closeOnExec() {
	names, err := os.ReadDir("/dev/fd")
	if err != nil {
		return
	}
	for _, n := range names {
		if fd, err := strconv.Atoi(n.Name()); err == nil && fd > 2 {
			syscall.CloseOnExec(fd)
		}
	}
}

func (c *process) SetReadDeadline(t time.Time) error {
	c.deadline = t
	return nil
}

func (c *process) Read(b []byte) (int, error) {
	for !c.closed.Load() {
		ended := c.run.hasEnded()
		wait := livenessInterval
		if ended {
			wait = shortestWait
		} else if !c.deadline.IsZero() {
			wait = max(min(wait, time.Until(c.deadline)), shortestWait)
		}
		n, err := c.readWithin(wait, b)
		late := errors.Is(err, syscall.EAGAIN)
		switch {
		case n > 0:
			return n, nil // an error comes again
		case c.closed.Load():
		case ended || err != nil && !late && c.run.endsWithin(reapGrace): // EOF, reset: nobody holds the line any more
			return 0, c.endError()
		case err != nil && !late:
			return 0, c.lost(err)
		case late && !c.deadline.IsZero() && !time.Now().Before(c.deadline):
			return 0, os.ErrDeadlineExceeded
		}
	}
	return 0, os.ErrClosed
}

// readWithin reads, for a time at most; EAGAIN: nothing came.
func (c *process) readWithin(wait time.Duration, b []byte) (int, error) {
	if wait != c.timeout {
		limit := unix.NsecToTimeval(wait.Nanoseconds())
		raw, err := c.line.SyscallConn()
		if err == nil {
			cerr := raw.Control(func(fd uintptr) { err = unix.SetsockoptTimeval(int(fd), unix.SOL_SOCKET, unix.SO_RCVTIMEO, &limit) })
			err = errors.Join(err, cerr)
		}
		if err != nil {
			return 0, err
		}
		c.timeout = wait
	}
	return c.line.Read(b)
}

func (c *process) Write(b []byte) (int, error) {
	if c.closed.Load() {
		return 0, os.ErrClosed
	}
	if c.run.hasEnded() {
		return 0, c.endError()
	}
	n, err := c.line.Write(b)
	switch {
	case err == nil:
		return n, nil
	case errors.Is(err, syscall.EAGAIN):
		return n, stuckError("exec:"+c.program, n, len(b), stallTime)
	case c.run.endsWithin(reapGrace):
		return n, c.endError()
	}
	return n, c.lost(err)
}

// lost is the error of a program that still runs, but has closed its line.
func (c *process) lost(err error) error {
	if errors.Is(err, io.EOF) {
		err = errors.New("the program has closed its standard output")
	}
	return fmt.Errorf("link: exec:%s: %w: %w", c.program, ErrGone, err)
}

// Waited is how long the program has waited for a processor. Only the reading goroutine may call it.
func (c *process) Waited(exact bool) time.Duration { return c.run.cpuWait.total(exact) }

func (c *process) endError() error {
	how := c.run.end.String()
	if last := c.stderr.String(); last != "" {
		how += "; standard error ended with: " + last
	}
	return fmt.Errorf("link: exec:%s: %w: the program has ended (%s)", c.program, ErrGone, how)
}

// End waits for the program's end, then hangs up, then sends it and all that it has started SIGTERM, then SIGKILL.
func (c *process) End() End {
	c.run.endsWithin(endGrace)
	_ = c.hangUp() // nothing else can be done
	forced := ""
	if !c.run.endsWithin(hangUpGrace) {
		forced = syscall.SIGTERM.String()
		c.terminate()
	}
	<-c.run.ended
	c.run.cpuWait.close()
	_ = c.line.Close()
	end := c.run.end
	end.Forced = forced
	return end
}

// hangUp ends the program's input, and our reading. What it still writes is taken until it ends, so that writing does
// not kill it.
func (c *process) hangUp() error {
	if c.closed.Swap(true) {
		return nil
	}
	raw, err := c.line.SyscallConn()
	if err != nil {
		return err
	}
	_ = raw.Control(func(fd uintptr) { err = unix.Shutdown(int(fd), unix.SHUT_WR) })
	if errors.Is(err, unix.ENOTCONN) {
		err = nil // it has ended
	}
	return err
}

// Close ends the program as End does, but waits less.
func (c *process) Close() error {
	err := c.hangUp()
	if !c.run.hasEnded() {
		c.terminate()
	}
	<-c.run.ended
	c.run.cpuWait.close()
	_ = c.line.Close()
	return err
}

// terminate sends SIGTERM to the program and all that it has started, and SIGKILL if they don't end.
func (c *process) terminate() {
	c.run.signal(syscall.SIGTERM)
	if !c.run.endsWithin(termGrace) {
		c.run.signal(syscall.SIGKILL)
	}
}

// HasProcesses says whether exec: works on this platform.
const HasProcesses = true
