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
	glance   = 20 * time.Millisecond  // how often a waiting Read looks whether the program is still there
	byItself = 20 * time.Millisecond  // for a program that ends when it is told that the run is over
	hungUp   = time.Second            // from hanging up to asking the program to end
	mercy    = 300 * time.Millisecond // from asking to killing it
	partWay  = 250 * time.Millisecond // for what is left on standard error after the program's end
)

// child is a program on the master side of a pseudo-terminal, and our serial port on the slave side.
// The master stays open here until the end, so that what the program said last can still be read.
type child struct {
	*port
	program  string
	run      *running
	master   *os.File
	words    *lastWords
	deadline time.Time
}

// running is a program that was started. end is of it once ended is closed, and all that it had started is gone then.
type running struct {
	ended  chan struct{}
	end    End
	waits  waits
	signal func(syscall.Signal) // SIGTERM or SIGKILL, to the program and to all that it has started
}

func (r *running) hasEnded() bool {
	select {
	case <-r.ended:
		return true
	default:
		return false
	}
}

// within waits for the program's end.
func (r *running) within(d time.Duration) bool {
	select {
	case <-r.ended:
		return true
	case <-time.After(d):
		return false
	}
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
	c := &child{port: p, program: argv[0], master: master, words: &lastWords{copy: opt.Stderr}}
	look := exec.Command(argv[0])
	if err = look.Err; err == nil {
		c.run, err = start(append([]string{look.Path}, argv...), master, c.words)
	}
	if err != nil {
		p.Close()
		master.Close()
		return nil, fmt.Errorf("link: exec:%s: %w; give the program's path, words with blanks in quotes", line, err)
	}
	return c, nil
}

// launch starts a command that inherits nothing of ours but what it is given.
func launch(c *exec.Cmd) error {
	opening.Lock()
	defer opening.Unlock()
	keepOurs()
	return c.Start()
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

func (c *child) SetReadDeadline(t time.Time) error {
	c.deadline = t
	return nil
}

func (c *child) Read(b []byte) (int, error) {
	for {
		ended, now := c.run.hasEnded(), time.Now()
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
	if c.run.hasEnded() && !c.closed.Load() {
		return 0, c.obituary()
	}
	return c.port.Write(b)
}

// Waited is how long the program has waited for a processor. It is for the goroutine that reads.
func (c *child) Waited(exact bool) time.Duration { return c.run.waits.total(exact) }

// carries: a pseudo-terminal has no speed.
func (c *child) carries(int) time.Duration { return 0 }

func (c *child) obituary() error {
	how := c.run.end.String()
	if last := c.words.String(); last != "" {
		how += "; its last words: " + last
	}
	return fmt.Errorf("link: exec:%s: %w: the program has ended (%s)", c.program, ErrGone, how)
}

// End gives the program time to end, then hangs up, then asks it and all that it has started to end, then kills them.
func (c *child) End() End {
	c.run.within(byItself)
	_ = c.hangUp() // closing is all that can be done here
	forced := ""
	if !c.run.within(hungUp) {
		forced = syscall.SIGTERM.String()
		c.stop()
	}
	<-c.run.ended
	c.run.waits.close()
	end := c.run.end
	end.Forced = forced
	return end
}

func (c *child) hangUp() error {
	if c.closed.Load() {
		return nil
	}
	return errors.Join(c.port.Close(), c.master.Close())
}

// Close ends the program as End does, but waits less for it.
func (c *child) Close() error {
	err := c.hangUp()
	if !c.run.hasEnded() {
		c.stop()
	}
	<-c.run.ended
	c.run.waits.close()
	return err
}

// stop asks the program and all that it has started to end, and kills them when they don't.
func (c *child) stop() {
	c.run.signal(syscall.SIGTERM)
	if !c.run.within(mercy) {
		c.run.signal(syscall.SIGKILL)
	}
}

// HasProcesses says whether exec: works on this platform.
const HasProcesses = true
