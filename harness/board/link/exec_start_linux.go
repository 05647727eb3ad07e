package link

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"syscall"
)

// supervisorName is the name of a copy of this program that supervises another program: see supervise.
const supervisorName = "drystage-supervisor"

// The commands to a supervisor are single bytes. The end of its input means commandKill.
const (
	commandTerminate = 'e' // SIGTERM
	commandKill      = 'k' // SIGKILL
)

// start starts a program (argv: its path, then its words) under a supervisor. That is a process of its own. It stays
// the ancestor of all that the program starts, even of new sessions and orphans. It ends all of them when the program
// ends, when it is told to, and when this process has ended for any reason.
func start(argv []string, line *os.File, words *stderrTail) (*program, error) {
	theirOrders, orders, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	news, theirNews, err := os.Pipe()
	if err != nil {
		return nil, errors.Join(err, theirOrders.Close(), orders.Close())
	}
	c := &exec.Cmd{Path: "/proc/self/exe", Args: append([]string{supervisorName}, argv...), Stdin: line, Stdout: line, Stderr: words,
		ExtraFiles: []*os.File{theirOrders, theirNews}, SysProcAttr: &syscall.SysProcAttr{Setsid: true}, WaitDelay: stderrGrace}
	err = startInheritingNothing(c)
	err = errors.Join(err, theirOrders.Close(), theirNews.Close())
	told := bufio.NewReader(news)
	if err == nil {
		err = awaitStarted(told)
	}
	if err != nil {
		if c.Process != nil {
			_ = c.Process.Kill() // its program was not started
			_ = c.Wait()
		}
		return nil, errors.Join(err, orders.Close(), news.Close())
	}
	r := &program{ended: make(chan struct{}), cpuWait: cpuWait{pid: c.Process.Pid, tasks: map[int]*task{}, ownThreads: map[int]*task{}}, signal: func(s syscall.Signal) {
		order := []byte{commandTerminate}
		if s == syscall.SIGKILL {
			order[0] = commandKill
		}
		_, _ = orders.Write(order) // a supervisor that has ended has nothing left to end
	}}
	go func() {
		r.end = readEnd(told)
		_ = c.Wait()
		_, _ = orders.Close(), news.Close()
		close(r.ended)
	}()
	return r, nil
}

// awaitStarted reads whether the supervisor could start its program.
func awaitStarted(news *bufio.Reader) error {
	word, err := news.ReadString('\n')
	if err != nil {
		return fmt.Errorf("the process that supervises it does not start: %w", err)
	}
	if why, failed := strings.CutPrefix(strings.TrimSpace(word), "failed "); failed {
		return errors.New(why)
	}
	return nil
}

// readEnd reads how the program ended. A supervisor that reports nothing was killed, and its program with it.
func readEnd(news *bufio.Reader) End {
	word, err := news.ReadString('\n')
	var status, sig int
	if _, serr := fmt.Sscanf(word, "ended %d %d", &status, &sig); err != nil || serr != nil {
		return End{Signal: syscall.SIGKILL.String() + ", and so was its supervisor"}
	}
	if sig != 0 {
		return End{Signal: syscall.Signal(sig).String()}
	}
	return End{Status: status}
}
