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

// gracePeriod is how long a command may take to end after a signal.
const gracePeriod = 700 * time.Millisecond

// runWithSignals runs a command and gives its exit status. After a signal, from Ctrl-C or the system, the command has a moment to print
// its results; then the process exits. A rig is made safe at once in either case, at the latest by its guard, and
// unfinished files are removed.
func runWithSignals(do func(ctx context.Context, end func()) int) int {
	ctx, stop := signal.NotifyContext(context.Background(), endSignals()...)
	defer stop()
	ctx, end := context.WithCancel(ctx) // which does what a signal does
	defer end()
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE) // the write tells, and the rest of the work goes on
	if list := askSignals(); len(list) > 0 {
		signal.Notify(make(chan os.Signal, 1), list...) // a progress answers; nothing else is ended by a question
	}
	done := make(chan int, 1)
	go func() { done <- do(ctx, end) }()
	select {
	case code := <-done:
		return code
	case <-ctx.Done():
	}
	select {
	case code := <-done:
		return code
	case <-time.After(gracePeriod):
		removeUnfinished(os.Stderr)
		return unsure
	}
}

// endSignals are the signals that end a command. Signals that nohup ignores stay ignored.
func endSignals() []os.Signal {
	list := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) {
		list = append(list, syscall.SIGHUP)
	}
	return list
}

// removeUnfinished removes unfinished files and reports it.
func removeUnfinished(w io.Writer) {
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
	case <-time.After(gracePeriod / 7):
	}
}

// ignoreSignals lets the guard survive the signals that end the tool.
func ignoreSignals() { signal.Ignore(os.Interrupt, syscall.SIGTERM, syscall.SIGHUP) }
