package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"

	"golang.org/x/term"

	"drystage/harness"
	"drystage/harness/report"
)

// printVerdicts writes verdicts in the format asked for. Text has colours only on a terminal that
// wants them.
func printVerdicts(d *desk, format string, vs []harness.Verdict, opt report.Options) error {
	switch format {
	case "json":
		return report.JSON(d.out, vs, opt)
	case "junit":
		return report.JUnit(d.out, vs, opt)
	}
	opt.Width, opt.Color = canvas(d.out)
	return report.Terminal(d.out, vs, opt)
}

// output remembers the first error of what it writes to, after which it writes no more.
type output struct {
	to  io.Writer
	err error
}

func (o *output) Write(b []byte) (n int, err error) {
	if o.err == nil {
		n, o.err = o.to.Write(b)
	}
	return n, o.err
}

// settle gives a command's exit status and prints its error. Where words got lost it is none of success, and
// the loss is told once; a reader who has left, as head does, has seen enough and is told nothing.
func (o *output) settle(err error, words io.Writer) (code int) {
	if err != nil && (o.err == nil || !errors.Is(err, o.err)) {
		code = explain(err, words)
	}
	if o.err == nil {
		return code
	}
	if !errors.Is(o.err, syscall.EPIPE) {
		fmt.Fprintf(words, "drystage: what was to be printed is lost: %v\n", o.err)
	}
	return cmp.Or(code, misused)
}

// canvas gives the width to write to, and whether colours are welcome.
func canvas(w io.Writer) (width int, color bool) {
	if o, ok := w.(*output); ok {
		w = o.to
	}
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return 80, false
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil {
		width = 80
	}
	return max(width, 60), os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}
