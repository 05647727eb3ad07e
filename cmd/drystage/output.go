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

// printVerdicts writes verdicts in the format asked for. Text has colours only on a terminal that
// wants them.
func printVerdicts(d *desk, format string, vs []harness.Verdict, opt report.Options) error {
	switch format {
	case "json":
		return report.JSON(d.out, vs, opt)
	case "junit":
		return report.JUnit(raw(d.out), vs, opt)
	}
	opt.Width, opt.Color = canvas(d.out)
	return report.Terminal(d.out, vs, opt)
}

// output is where text for people goes: it lets nothing through that could do something to a terminal, and
// remembers the first error of what it writes to, after which it writes no more.
type output struct {
	to    io.Writer
	color bool // colours of our own pass
	rest  []byte
	err   error
}

func (o *output) Write(b []byte) (int, error) {
	o.rest = append(o.rest, b...)
	n := len(o.rest)
	if at := bytes.LastIndexByte(o.rest, 0x1b); at >= 0 && n-at < len("\x1b[1;31m") && ours.FindIndex(o.rest[at:]) == nil {
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
	o.put(n)
	return len(b), o.err
}

// end writes what was held back.
func (o *output) end() { o.put(len(o.rest)) }

func (o *output) put(n int) {
	text := o.rest[:n]
	o.rest = append([]byte(nil), o.rest[n:]...)
	if o.err == nil && n > 0 {
		_, o.err = io.WriteString(o.to, printable(string(text), o.color))
	}
}

// safely writes a page for people by way of an output.
func safely(w io.Writer, write func(io.Writer) error) error {
	o := &output{to: w}
	err := write(o)
	o.end()
	return cmp.Or(err, o.err)
}

// ours is a colour as our reports write it.
var ours = regexp.MustCompile("\x1b\\[[0-9;]{0,4}m")

// printable is text for a terminal, with colours or without.
func printable(text string, color bool) string {
	if !color {
		return harness.PrintableText(text, "\n\t")
	}
	var b strings.Builder
	for len(text) > 0 {
		at := ours.FindStringIndex(text)
		if at == nil {
			at = []int{len(text), len(text)}
		}
		b.WriteString(harness.PrintableText(text[:at[0]], "\n\t"))
		b.WriteString(text[at[0]:at[1]])
		text = text[at[1]:]
	}
	return b.String()
}

// rawOutput writes bytes for another program to an output's place, as they are.
type rawOutput struct{ o *output }

func (r rawOutput) Write(b []byte) (n int, err error) {
	if r.o.end(); r.o.err == nil {
		n, r.o.err = r.o.to.Write(b)
	}
	return n, r.o.err
}

// raw is for what is no text: a board's line, tables and sentences with line ends of their own.
func raw(w io.Writer) io.Writer {
	if o, ok := w.(*output); ok {
		return rawOutput{o}
	}
	return w
}

// sayf prints for people. Names come from strangers: one can't begin a line of its own.
func sayf(w io.Writer, format string, a ...any) (int, error) {
	return fmt.Fprintf(w, format, shown(a)...)
}

// errorf makes an error for people.
func errorf(format string, a ...any) error { return fmt.Errorf(format, shown(a)...) }

// shown makes words fit for one line.
func shown(a []any) []any {
	a = slices.Clone(a)
	for i := range a {
		switch x := a[i].(type) {
		case string:
			a[i] = harness.Printable(x)
		case error:
			a[i] = shownError{x}
		}
	}
	return a
}

// shownError is an error whose text is fit for people.
type shownError struct{ error }

func (e shownError) Error() string { return told(e.error) }
func (e shownError) Unwrap() error { return e.error }

// told is an error's text in which the name of a file is fit for one line.
func told(err error) string {
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

// settle gives a command's exit status and prints its error. Where words got lost it is none of success, and
// the loss is told once; a reader who has left, as head does, has seen enough and is told nothing.
func (o *output) settle(err error, words io.Writer) (code int) {
	if err != nil && (o.err == nil || !errors.Is(err, o.err)) {
		code = explain(err, words)
	}
	if o.end(); o.err == nil {
		return code
	}
	if !errors.Is(o.err, syscall.EPIPE) {
		fmt.Fprintf(words, "drystage: what was to be printed is lost: %v\n", o.err)
	}
	return cmp.Or(code, misused)
}

// canvas gives the width to write to, and whether colours are welcome.
func canvas(w io.Writer) (width int, color bool) {
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
