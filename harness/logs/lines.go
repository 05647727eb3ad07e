package logs

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"drystage/harness"
)

const (
	longestLine = 1 << 20 // bytes
	mostCells   = 4096    // in a line
)

// lines gives a text line by line in bounded memory.
type lines struct {
	in   *bufio.Reader
	file string
	n    int   // of the line last given, from 1
	read int64 // bytes so far
	told func(read int64)
	last bool // the line last given had no line end
}

func newLines(r io.Reader, file string, told func(int64)) *lines {
	return &lines{in: bufio.NewReaderSize(r, longestLine), file: file, told: told}
}

// next gives the next line without its end, valid until the call after; io.EOF when there is none.
func (l *lines) next() ([]byte, error) {
	b, err := l.in.ReadSlice('\n')
	l.n++
	l.read += int64(len(b))
	if l.told != nil && l.n&0xfff == 0 {
		l.told(l.read)
	}
	switch {
	case errors.Is(err, bufio.ErrBufferFull):
		return nil, harness.Problem{Place: l.place(1), Found: fmt.Sprintf("a line longer than %d bytes", longestLine), Wanted: "a table of text with a row per line", Hint: "is this a log, and does it have line ends?"}
	case err == io.EOF && len(b) == 0:
		return nil, io.EOF
	case err != nil && err != io.EOF:
		return nil, fmt.Errorf("logs: %s: %w", l.file, err)
	}
	l.last = err == io.EOF
	for n := len(b); n > 0 && (b[n-1] == '\r' || b[n-1] == '\n'); n-- {
		b = b[:n-1]
	}
	if l.n == 1 {
		if bytes.HasPrefix(b, []byte("\xff\xfe")) || bytes.HasPrefix(b, []byte("\xfe\xff")) {
			return nil, harness.Problem{Place: l.place(1), Found: "text in UTF-16", Wanted: "text in UTF-8", Hint: "save the log as UTF-8"}
		}
		b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	}
	return b, l.text(b)
}

// text refuses bytes that no text has.
func (l *lines) text(b []byte) error {
	for i, c := range b {
		if c < ' ' && c != '\t' || c == 0x7f {
			return harness.Problem{Place: l.place(i + 1), Found: fmt.Sprintf("control character 0x%02x", c), Wanted: "a table of text", Hint: "is this a binary log? export it as text first"}
		}
	}
	if l.n <= 100 && !utf8.Valid(b) {
		i := 0
		for i < len(b) {
			r, size := utf8.DecodeRune(b[i:])
			if r == utf8.RuneError && size == 1 {
				break
			}
			i += size
		}
		// A degree sign in an old encoding is the usual cause: harmless in a header, so only binary is refused.
		if bad := countBad(b); bad*10 > len(b) {
			return harness.Problem{Place: l.place(i + 1), Found: fmt.Sprintf("byte 0x%02x, which is no UTF-8", b[i]), Wanted: "a table of text in UTF-8", Hint: "is this a binary log? export it as text first"}
		}
	}
	return nil
}

func countBad(b []byte) int {
	n := 0
	for len(b) > 0 {
		r, size := utf8.DecodeRune(b)
		if r == utf8.RuneError && size == 1 {
			n++
		}
		b = b[size:]
	}
	return n
}

func (l *lines) place(column int) harness.Place {
	return harness.Place{File: l.file, Line: l.n, Column: column}
}

// cell is one cell of a line: its bytes and the column of its first byte, from 1.
type cell struct {
	text []byte
	at   int
}

// split cuts a line into cells. Cells may be quoted; blanks around them don't count. With ' ' as the
// delimiter any run of blanks parts two cells.
func split(line []byte, delimiter byte, into []cell) []cell {
	into = into[:0]
	plain := delimiter != ' ' && bytes.IndexByte(line, '"') < 0
	for i := 0; i <= len(line); {
		if delimiter == ' ' {
			for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
				i++
			}
			if i == len(line) {
				break
			}
		}
		end := len(line)
		if !plain {
			end = cellEnd(line, i, delimiter)
		} else if n := bytes.IndexByte(line[i:], delimiter); n >= 0 {
			end = i + n
		}
		text := line[i:end]
		at := i + 1
		for len(text) > 0 && (text[0] == ' ' || text[0] == '\t') {
			text, at = text[1:], at+1
		}
		for n := len(text); n > 0 && (text[n-1] == ' ' || text[n-1] == '\t'); n-- {
			text = text[:n-1]
		}
		if len(text) > 1 && text[0] == '"' && text[len(text)-1] == '"' {
			text, at = text[1:len(text)-1], at+1
		}
		into = append(into, cell{text, at})
		if len(into) > mostCells || end == len(line) {
			break
		}
		i = end + 1
	}
	return into
}

func cellEnd(line []byte, from int, delimiter byte) int {
	quoted := false
	for i := from; i < len(line); i++ {
		switch {
		case line[i] == '"':
			quoted = !quoted
		case line[i] == delimiter && !quoted, delimiter == ' ' && line[i] == '\t' && !quoted:
			return i
		}
	}
	if quoted { // a lone quote: it is a sign like others
		if i := bytes.IndexByte(line[from:], delimiter); i >= 0 {
			return from + i
		}
	}
	return len(line)
}
