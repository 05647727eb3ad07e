package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"unicode/utf8"

	"golang.org/x/term"

	"drystage/harness"
	"drystage/harness/show/report"
)

// printVerdicts writes verdicts in a format. Text has colours only on a terminal that allows them.
func printVerdicts(d *console, format string, vs []harness.Verdict, opt report.Options) error {
	switch format {
	case "json":
		return report.JSON(d.out, vs, opt)
	case "junit":
		return report.JUnit(raw(d.out), vs, opt)
	}
	opt.Width, opt.Color = terminalSize(d.out)
	if err := report.Terminal(d.out, vs, opt); err != nil || opt.Against == nil {
		return err
	}
	return report.Against(d.out, opt.Against, opt)
}

// output writes text for people. It escapes what could control a terminal, keeps the first error of its writer, and writes
// nothing after it.
type output struct {
	to    io.Writer
	color bool // colours of our own pass
	rest  []byte
	err   error
}

func (o *output) Write(b []byte) (int, error) {
	o.rest = append(o.rest, b...)
	n := len(o.rest)
	if at := bytes.LastIndexByte(o.rest, 0x1b); at >= 0 && n-at < len("\x1b[1;31m") && ownColour.FindIndex(o.rest[at:]) == nil {
		n = at // the rest of a colour may be still to come
	}
	for k := 1; k < utf8.UTFMax && k <= n; k++ { // so may the rest of a character
		if c := o.rest[n-k]; utf8.RuneStart(c) {
			if !utf8.FullRune(o.rest[n-k : n]) {
				n -= k
			}
			break
		}
	}
	o.writeFirst(n)
	return len(b), o.err
}

// flush writes the rest.
func (o *output) flush() { o.writeFirst(len(o.rest)) }

func (o *output) writeFirst(n int) {
	text := o.rest[:n]
	o.rest = append([]byte(nil), o.rest[n:]...)
	if o.err == nil && n > 0 {
		_, o.err = io.WriteString(o.to, printable(string(text), o.color))
	}
}

// writePrintable writes a page for people through an output.
func writePrintable(w io.Writer, write func(io.Writer) error) error {
	o := &output{to: w}
	err := write(o)
	o.flush()
	return cmp.Or(err, o.err)
}

// ownColour matches a colour as our reports write it.
var ownColour = regexp.MustCompile("\x1b\\[[0-9;]{0,4}m")

// printable is text for a terminal, with colours or without.
func printable(text string, color bool) string {
	if !color {
		return harness.PrintableText(text, "\n\t")
	}
	var b strings.Builder
	for len(text) > 0 {
		at := ownColour.FindStringIndex(text)
		if at == nil {
			at = []int{len(text), len(text)}
		}
		b.WriteString(harness.PrintableText(text[:at[0]], "\n\t"))
		b.WriteString(text[at[0]:at[1]])
		text = text[at[1]:]
	}
	return b.String()
}

// rawOutput writes bytes for another program to an output's writer, unchanged.
type rawOutput struct{ o *output }

func (r rawOutput) Write(b []byte) (n int, err error) {
	if r.o.flush(); r.o.err == nil {
		n, r.o.err = r.o.to.Write(b)
	}
	return n, r.o.err
}

// raw is for data that is not text for people: a board's line, tables, sentences with their own line ends.
func raw(w io.Writer) io.Writer {
	if o, ok := w.(*output); ok {
		return rawOutput{o}
	}
	return w
}

// sayf prints for people. Text arguments, such as names of files, can't start a new line.
func sayf(w io.Writer, format string, a ...any) (int, error) {
	return fmt.Fprintf(w, format, printableArgs(a)...)
}

// errorf makes an error for people.
func errorf(format string, a ...any) error { return fmt.Errorf(format, printableArgs(a)...) }

// printableArgs makes arguments printable in one line.
func printableArgs(a []any) []any {
	a = slices.Clone(a)
	for i := range a {
		switch x := a[i].(type) {
		case string:
			a[i] = harness.Printable(x)
		case error:
			a[i] = printableError{x}
		}
	}
	return a
}

// printableError is an error with printable text.
type printableError struct{ error }

func (e printableError) Error() string { return errorText(e.error) }
func (e printableError) Unwrap() error { return e.error }

// errorText gives an error's text with file names printable in one line.
func errorText(err error) string {
	text := err.Error()
	var p *fs.PathError
	if errors.As(err, &p) {
		text = strings.ReplaceAll(text, p.Path, harness.Printable(p.Path))
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		text = strings.ReplaceAll(strings.ReplaceAll(text, l.Old, harness.Printable(l.Old)), l.New, harness.Printable(l.New))
	}
	return text
}

// exitStatus gives a command's exit status and prints its error. If output was lost, the status is not that of success, and the loss
// is reported once; but not if the reader has closed the pipe, as head does.
func (o *output) exitStatus(err error, words io.Writer) (code int) {
	if err != nil && (o.err == nil || !errors.Is(err, o.err)) {
		code = printError(err, words)
	}
	if o.flush(); o.err == nil {
		return code
	}
	if !errors.Is(o.err, syscall.EPIPE) {
		fmt.Fprintf(words, "drystage: what was to be printed is lost: %v\n", o.err)
	}
	return cmp.Or(code, misused)
}

// terminalSize gives the width to write to, and whether colours are welcome.
func terminalSize(w io.Writer) (width int, color bool) {
	f, ok := fileOf(w)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return 80, false
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil {
		width = 80
	}
	return max(width, 60), os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}

// fileOf is the file that a writer writes to, if it is one.
func fileOf(w io.Writer) (*os.File, bool) {
	if o, ok := w.(*output); ok {
		w = o.to
	}
	f, ok := w.(*os.File)
	return f, ok
}
