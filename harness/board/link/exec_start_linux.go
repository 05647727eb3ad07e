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

// keeperName is how a copy of this program is called that keeps another one: see keep.
const keeperName = "drystage-keeper"

// A keeper's orders are single bytes; the end of them is orderKill.
const (
	orderEnd  = 'e' // SIGTERM
	orderKill = 'k' // SIGKILL
)

// start starts a program, path first, then its words, below a keeper: a process of its own that stays the ancestor of
// all that the program starts, whatever session or parent that takes for itself, and that ends all of it when the
// program ends, when it is told to, and when this process is gone, however it went.
func start(argv []string, line *os.File, words *lastWords) (*running, error) {
	theirOrders, orders, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	news, theirNews, err := os.Pipe()
	if err != nil {
		return nil, errors.Join(err, theirOrders.Close(), orders.Close())
	}
	c := &exec.Cmd{Path: "/proc/self/exe", Args: append([]string{keeperName}, argv...), Stdin: line, Stdout: line, Stderr: words,
		ExtraFiles: []*os.File{theirOrders, theirNews}, SysProcAttr: &syscall.SysProcAttr{Setsid: true}, WaitDelay: partWay}
	err = launch(c)
	err = errors.Join(err, theirOrders.Close(), theirNews.Close())
	told := bufio.NewReader(news)
	if err == nil {
		err = begun(told)
	}
	if err != nil {
		if c.Process != nil {
			_ = c.Process.Kill() // its program has not begun
			_ = c.Wait()
		}
		return nil, errors.Join(err, orders.Close(), news.Close())
	}
	r := &running{ended: make(chan struct{}), waits: waits{pid: c.Process.Pid, tasks: map[int]*task{}, mine: map[int]*task{}}, signal: func(s syscall.Signal) {
		order := []byte{orderEnd}
		if s == syscall.SIGKILL {
			order[0] = orderKill
		}
		_, _ = orders.Write(order) // a keeper that has gone has nothing left to end
	}}
	go func() {
		r.end = ending(told)
		_ = c.Wait()
		_, _ = orders.Close(), news.Close()
		close(r.ended)
	}()
	return r, nil
}

// begun reads whether a keeper could start its program.
func begun(news *bufio.Reader) error {
	word, err := news.ReadString('\n')
	if err != nil {
		return fmt.Errorf("the process that is to keep it does not start: %w", err)
	}
	if why, failed := strings.CutPrefix(strings.TrimSpace(word), "failed "); failed {
		return errors.New(why)
	}
	return nil
}

// ending reads how a keeper's program ended. A keeper that says nothing was killed, and its program with it.
func ending(news *bufio.Reader) End {
	word, err := news.ReadString('\n')
	var status, sig int
	if _, serr := fmt.Sscanf(word, "ended %d %d", &status, &sig); err != nil || serr != nil {
		return End{Signal: syscall.SIGKILL.String() + ", and so was its keeper"}
	}
	if sig != 0 {
		return End{Signal: syscall.Signal(sig).String()}
	}
	return End{Status: status}
}
