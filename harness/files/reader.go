package files

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"drystage/harness"
)

// largest is the most bytes that a file may have.
const largest = 1 << 20

// reader reads files, gathers their problems and hashes all that it has read, in that order.
type reader struct {
	fsys     fs.FS
	problems []harness.Problem
	sum      hash.Hash
	seen     map[harness.Problem]bool
}

func newReader(fsys fs.FS) *reader {
	return &reader{fsys: fsys, sum: sha256.New(), seen: map[harness.Problem]bool{}}
}

// found keeps a problem, once.
func (r *reader) found(at harness.Place, found, wanted, hint string) {
	p := harness.Problem{Place: at, Found: found, Wanted: wanted, Hint: hint}
	if !r.seen[p] {
		r.seen[p] = true
		r.problems = append(r.problems, p)
	}
}

// sorted gives the problems file by file in the order of first mention, and by place in each.
func (r *reader) sorted() []harness.Problem {
	order := map[string]int{}
	for _, p := range r.problems {
		if _, ok := order[p.File]; !ok {
			order[p.File] = len(order)
		}
	}
	slices.SortStableFunc(r.problems, func(a, b harness.Problem) int {
		return cmpInts([]int{order[a.File], a.Line, a.Column}, []int{order[b.File], b.Line, b.Column})
	})
	return r.problems
}

func cmpInts(a, b []int) int { return slices.Compare(a, b) }

func (r *reader) digest() string { return hex.EncodeToString(r.sum.Sum(nil)) }

// read gives the text of a file that is named at a place, or keeps why it can't.
func (r *reader) read(name string, at harness.Place) (text []byte, ok bool) {
	f, err := r.fsys.Open(name)
	if err != nil {
		hint := "check the path; it is relative to the file it stands in"
		if at.Line == 0 {
			hint = "check the path"
		}
		r.found(at, quote(name)+", which "+plainly(err), "a file that can be read", hint)
		return nil, false
	}
	defer f.Close()
	text, err = io.ReadAll(io.LimitReader(f, largest+1))
	switch {
	case err != nil:
		r.found(at, quote(name)+", which "+plainly(err), "a file that can be read", "")
	case len(text) > largest:
		r.found(harness.Place{File: name}, "a file of more than 1 MiB", "a file that a person wrote", "")
	default:
		fmt.Fprintf(r.sum, "%d %s\n", len(text), path.Base(name))
		r.sum.Write(text)
		return r.decoded(name, text)
	}
	return nil, false
}

func plainly(err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "does not exist"
	case errors.Is(err, fs.ErrPermission):
		return "may not be read by this user"
	}
	return "can't be read (" + err.Error() + ")"
}

// decoded wants UTF-8 without NUL, takes a byte order mark away, and says where the text is neither.
func (r *reader) decoded(name string, text []byte) ([]byte, bool) {
	if bytes.HasPrefix(text, []byte{0xff, 0xfe}) || bytes.HasPrefix(text, []byte{0xfe, 0xff}) {
		r.found(harness.Place{File: name, Line: 1, Column: 1}, "UTF-16 text", "UTF-8", "save the file as UTF-8")
		return nil, false
	}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	line, column := 1, 1
	for i := 0; i < len(text); {
		c, n := utf8.DecodeRune(text[i:])
		switch {
		case c == utf8.RuneError && n <= 1:
			r.found(harness.Place{File: name, Line: line, Column: column}, fmt.Sprintf("the byte 0x%02x, which is not UTF-8", text[i]), "UTF-8 text", "save the file as UTF-8")
			return nil, false
		case c == 0:
			r.found(harness.Place{File: name, Line: line, Column: column}, "a NUL byte", "text", "this looks like a binary file")
			return nil, false
		case c == '\n':
			line, column = line+1, 0
		}
		column++
		i += n
	}
	return text, true
}

// yamlFile reads a YAML file of one kind; nil when there is none.
func (r *reader) yamlFile(name, kind string, at harness.Place) *node {
	text, ok := r.read(name, at)
	if !ok {
		return nil
	}
	before := len(r.problems)
	n := r.parse(name, text)
	if n == nil {
		return nil
	}
	if n.kind != mapping {
		r.found(n.at, n.String(), "`drystage: "+kind+"` and its keys", "")
		return nil
	}
	got := n.get("drystage")
	switch {
	case got == nil && len(r.problems) == before:
		r.found(n.at, "no key `drystage`", "`drystage: "+kind+"` as the first key", "")
		return nil
	case got != nil && got.text != kind:
		r.found(got.at, got.String(), "the kind `"+kind+"`", near(got.text, []string{kind}))
		return nil
	}
	return n
}

// beside resolves a path relative to the file it stands in.
func beside(at harness.Place, name string) string {
	if path.IsAbs(name) {
		return name
	}
	return path.Join(path.Dir(at.File), name)
}

func quote(s string) string {
	if len(s) > 60 {
		s = s[:57] + "..."
	}
	return strconv.Quote(strings.ToValidUTF8(s, "?"))
}
