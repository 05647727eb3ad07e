package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"
)

// patience is how long a command may take to end by itself once it was told to.
const patience = 700 * time.Millisecond

// supervise does a command and gives its exit status. Told to end, by Ctrl-C or by the system, the command has
// a moment to print what it has; then it ends wherever it is. A rig is made safe at once in either case, at
// the latest by its guard, and a file that was being written is not there.
func supervise(do func(ctx context.Context) int) int {
	ctx, stop := signal.NotifyContext(context.Background(), stops()...)
	defer stop()
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE) // the write tells, and the rest of the work goes on
	done := make(chan int, 1)
	go func() { done <- do(ctx) }()
	select {
	case code := <-done:
		return code
	case <-ctx.Done():
	}
	select {
	case code := <-done:
		return code
	case <-time.After(patience):
		abandon(os.Stderr)
		return unsure
	}
}

// stops are the signals that end a command. One that nohup has silenced stays so.
func stops() []os.Signal {
	list := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) {
		list = append(list, syscall.SIGHUP)
	}
	return list
}

// abandon takes unfinished files away and says so, if somebody listens.
func abandon(w io.Writer) {
	unfinished.Range(func(name, _ any) bool {
		os.Remove(name.(string))
		return true
	})
	told := make(chan struct{})
	go func() {
		fmt.Fprintln(w, "drystage: interrupted before the work was done; what is missing above was not done")
		close(told)
	}()
	select {
	case <-told:
	case <-time.After(patience / 7):
	}
}

// ignoreSignals keeps the guard alive through what ends the tool.
func ignoreSignals() { signal.Ignore(os.Interrupt, syscall.SIGTERM, syscall.SIGHUP) }
