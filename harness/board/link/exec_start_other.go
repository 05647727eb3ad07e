//go:build darwin || freebsd

package link

import (
	"os"
	"os/exec"
	"syscall"
)

// start starts a program, path first, then its words, in a process group of its own. What leaves that group is not
// found here, and when drystage is killed outright, programs learn so from the end of their line only: Linux does better.
func start(argv []string, line *os.File, words *lastWords) (*running, error) {
	c := &exec.Cmd{Path: argv[0], Args: argv[1:], Stdin: line, Stdout: line, Stderr: words,
		SysProcAttr: &syscall.SysProcAttr{Setpgid: true}, WaitDelay: partWay}
	if err := launch(c); err != nil {
		return nil, err
	}
	group := func(s syscall.Signal) { _ = syscall.Kill(-c.Process.Pid, s) }
	r := &running{ended: make(chan struct{}), signal: group}
	go func() {
		_ = c.Wait() // how it ended is in its state
		group(syscall.SIGKILL)
		r.end = endOf(c.ProcessState)
		close(r.ended)
	}()
	return r, nil
}

// endOf reads how a process ended.
func endOf(s *os.ProcessState) End {
	w, ok := s.Sys().(syscall.WaitStatus)
	if ok && w.Signaled() {
		return End{Signal: w.Signal().String()}
	}
	return End{Status: s.ExitCode()}
}
