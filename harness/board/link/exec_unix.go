//go:build linux || darwin || freebsd

package link

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"syscall"
	"time"

	"github.com/creack/pty"
)

const (
	livenessInterval = 20 * time.Millisecond  // how often a waiting Read checks whether the program has ended
	endGrace         = 20 * time.Millisecond  // for a program to end by itself after BYE
	hangUpGrace      = 5 * time.Second        // from hanging up to SIGTERM
	termGrace        = 300 * time.Millisecond // from SIGTERM to SIGKILL
	stderrGrace      = 250 * time.Millisecond // to read the rest of standard error after the end
)

// process is a program on the master side of a pseudo-terminal, with our serial port on the slave side. The master
// stays open in this process until the end, so that the program's last output can still be read.
type process struct {
	*port
	program  string
	run      *program
	master   *os.File
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

// openExec starts a program whose standard input and output are our link. The slave side is opened first, so that it
// is in raw mode before the program writes.
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
	c := &process{port: p, program: argv[0], master: master, stderr: &stderrTail{copy: opt.Stderr}}
	look := exec.Command(argv[0])
	if err = look.Err; err == nil {
		c.run, err = start(append([]string{look.Path}, argv...), master, c.stderr)
	}
	if err != nil {
		p.Close()
		master.Close()
		return nil, fmt.Errorf("link: exec:%s: %w; give the program's path, words with blanks in quotes", line, err)
	}
	return c, nil
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
	for {
		ended, now := c.run.hasEnded(), time.Now()
		until := now
		if !ended {
			until = now.Add(livenessInterval)
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
			return 0, c.endError()
		case !c.deadline.IsZero() && !until.Before(c.deadline):
			return 0, err
		}
	}
}

func (c *process) Write(b []byte) (int, error) {
	if c.run.hasEnded() && !c.closed.Load() {
		return 0, c.endError()
	}
	return c.port.Write(b)
}

// Waited is how long the program has waited for a processor. Only the reading goroutine may call it.
func (c *process) Waited(exact bool) time.Duration { return c.run.cpuWait.total(exact) }

// carries: a pseudo-terminal has no speed.
func (c *process) carries(int) time.Duration { return 0 }

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
	end := c.run.end
	end.Forced = forced
	return end
}

func (c *process) hangUp() error {
	if c.closed.Load() {
		return nil
	}
	return errors.Join(c.port.Close(), c.master.Close())
}

// Close ends the program as End does, but waits less.
func (c *process) Close() error {
	err := c.hangUp()
	if !c.run.hasEnded() {
		c.terminate()
	}
	<-c.run.ended
	c.run.cpuWait.close()
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
