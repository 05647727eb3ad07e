//go:build darwin || freebsd

package link

import (
	"os"
	"os/exec"
	"syscall"
)

// start starts a program (argv: its path, then its words) in a process group of its own. Processes that leave the
// group are not found here. If drystage is killed, the program learns it only from the end of its line. Linux does
// better.
func start(argv []string, line *os.File, words *stderrTail) (*program, error) {
	c := &exec.Cmd{Path: argv[0], Args: argv[1:], Stdin: line, Stdout: line, Stderr: words,
		SysProcAttr: &syscall.SysProcAttr{Setpgid: true}, WaitDelay: stderrGrace}
	if err := startInheritingNothing(c); err != nil {
		return nil, err
	}
	group := func(s syscall.Signal) { _ = syscall.Kill(-c.Process.Pid, s) }
	r := &program{ended: make(chan struct{}), signal: group}
	go func() {
		_ = c.Wait() // ProcessState has the result
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
