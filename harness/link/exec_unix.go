//go:build linux || darwin || freebsd

package link

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"syscall"
	"time"

	"github.com/creack/pty"
)

const (
	glance  = 20 * time.Millisecond  // how often a waiting Read looks whether the program is still there
	mercy   = 300 * time.Millisecond // from asking the program to end to killing it
	partWay = 250 * time.Millisecond // for what is left on standard error after the program's end
)

// child is a program on the master side of a pseudo-terminal, and our serial port on the slave side.
// The master stays open here until Close, so that what the program said last can still be read.
type child struct {
	*port
	program  string
	cmd      *exec.Cmd
	master   *os.File
	words    *lastWords
	ended    chan struct{} // closed when the program has been reaped
	state    error         // of its end, once ended is closed
	deadline time.Time
}

// openExec starts a program whose standard input and output are a line to us. The slave side is
// opened first: it is raw before the program says its first word.
func openExec(line string, opt Options) (Link, error) {
	argv, err := split(line)
	if err != nil {
		return nil, fmt.Errorf("link: exec:%s: %w", line, err)
	}
	master, slave, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("link: exec:%s: no pseudo-terminal: %w", line, err)
	}
	defer slave.Close()
	p, err := openPort(slave.Name(), DefaultBaud, nil)
	if err != nil {
		master.Close()
		return nil, err
	}
	p.name, p.path = "exec:"+argv[0], ""
	c := &child{port: p, program: argv[0], master: master, words: &lastWords{copy: opt.Stderr}, ended: make(chan struct{})}
	if err := c.start(argv); err != nil {
		p.Close()
		master.Close()
		return nil, fmt.Errorf("link: exec:%s: %w; give the program's path, words with blanks in quotes", line, err)
	}
	return c, nil
}

func (c *child) start(argv []string) error {
	c.cmd = exec.Command(argv[0], argv[1:]...)
	c.cmd.Stdin, c.cmd.Stdout, c.cmd.Stderr = c.master, c.master, c.words
	c.cmd.SysProcAttr = apart()
	c.cmd.WaitDelay = partWay
	started := make(chan error)
	go func() {
		runtime.LockOSThread() // which the program's life hangs on
		defer runtime.UnlockOSThread()
		err := c.launch()
		started <- err
		if err == nil {
			c.state = c.cmd.Wait()
			c.signal(syscall.SIGKILL) // what it has started itself
			close(c.ended)
		}
	}()
	return <-started
}

func (c *child) launch() error {
	opening.Lock()
	defer opening.Unlock()
	keepOurs()
	return c.cmd.Start()
}

// keepOurs has the system close all our descriptors in a program that we start. The serial library opens its
// own without saying so; a program that inherits the slave side of its own pseudo-terminal never learns
// that we have gone, and lives on.
func keepOurs() {
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

// signal goes to the program's whole process group, which has the program's own number.
func (c *child) signal(s syscall.Signal) { _ = syscall.Kill(-c.cmd.Process.Pid, s) }

func (c *child) hasEnded() bool {
	select {
	case <-c.ended:
		return true
	default:
		return false
	}
}

func (c *child) SetReadDeadline(t time.Time) error {
	c.deadline = t
	return nil
}

func (c *child) Read(b []byte) (int, error) {
	for {
		ended, now := c.hasEnded(), time.Now()
		until := now
		if !ended {
			until = now.Add(glance)
		}
		if !c.deadline.IsZero() && c.deadline.Before(until) {
			until = c.deadline
		}
		_ = c.port.SetReadDeadline(until)
		n, err := c.port.Read(b)
		switch {
		case !errors.Is(err, os.ErrDeadlineExceeded):
			return n, err
		case ended:
			return 0, c.obituary()
		case !c.deadline.IsZero() && !until.Before(c.deadline):
			return 0, err
		}
	}
}

func (c *child) Write(b []byte) (int, error) {
	if c.hasEnded() && !c.closed.Load() {
		return 0, c.obituary()
	}
	return c.port.Write(b)
}

func (c *child) obituary() error {
	how := "exit status 0"
	if c.state != nil && !errors.Is(c.state, exec.ErrWaitDelay) {
		how = c.state.Error()
	}
	if last := c.words.String(); last != "" {
		how += "; its last words: " + last
	}
	return fmt.Errorf("link: exec:%s: %w: the program has ended (%s)", c.program, ErrGone, how)
}

// Close hangs up, asks the program and all that it has started to end, kills them when they don't,
// and waits until the program is reaped.
func (c *child) Close() error {
	if c.closed.Load() {
		return nil
	}
	err := errors.Join(c.port.Close(), c.master.Close())
	if !c.hasEnded() {
		c.signal(syscall.SIGTERM)
		select {
		case <-c.ended:
		case <-time.After(mercy):
			c.signal(syscall.SIGKILL)
			<-c.ended
		}
	}
	return err
}

// HasProcesses says whether exec: works on this platform.
const HasProcesses = true
