package scenario

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"unicode/utf8"

	"drystage/harness"
	"drystage/harness/disk"
)

// maxSize is the greatest size of a file. A long motor curve has some 10 kB.
const maxSize = 1 << 20

// loader reads the files of one scenario, remembers them in order, and gathers problems.
type loader struct {
	fsys     fs.FS
	files    []*file
	digested []harness.File // by their digests, since they are not read here
	problems []harness.Problem
	see      string                   // the reference's entry of what is being read
	entries  map[harness.Place]string // the reference's entries of what was read
	examples exampleSet               // keeps what is read for the reference; nil: nothing is kept
}

// file is one file that was read, each once however often it is named.
type file struct {
	name    string
	content []byte  // as it stands on the disk
	text    string  // without byte order mark, lines ending in \n
	good    bool    // it could be read and is text
	root    *node   // of YAML; nil when it is none
	object  *object // of a motor: its header
	curve   curve   // of a motor
	checked bool    // of a motor: header and curve were read
}

// report notes a problem with the entry of the reference that tells of its key, also when the key was read before.
func (l *loader) report(p harness.Problem) {
	if p.See = l.see; p.See == "" {
		p.See = l.entries[p.Place]
	}
	l.problems = append(l.problems, p)
}

// enters notes which entry of the reference tells of what stands at a place.
func (l *loader) enters(at harness.Place, entry string) {
	if l.entries == nil {
		l.entries = map[harness.Place]string{}
	}
	l.entries[at] = entry
}

// sorted puts all problems into order: by file as first read, then by place. Equal ones count once.
func (l *loader) sorted() []harness.Problem {
	rank := func(name string) int {
		return slices.IndexFunc(l.files, func(f *file) bool { return f.name == name })
	}
	slices.SortStableFunc(l.problems, func(a, b harness.Problem) int {
		return cmp.Or(rank(a.File)-rank(b.File), a.Line-b.Line, a.Column-b.Column, cmp.Compare(a.Found, b.Found), cmp.Compare(a.Hint, b.Hint))
	})
	return slices.Compact(l.problems)
}

// read gives a file, from memory if it was read before. from is the place that names it; without
// one, problems of opening stand at the file itself.
func (l *loader) read(name string, from harness.Place) *file {
	for _, f := range l.files {
		if f.name == name {
			return f
		}
	}
	f := l.readText(name, from)
	if f.good && !isMotor(name) {
		f.root = l.parseYAML(name, f.text)
	}
	return f
}

// readText reads a file without looking at what its text means. It reports what is no text.
func (l *loader) readText(name string, from harness.Place) *file {
	if from.File == "" {
		from.File = name
	}
	f := &file{name: name}
	l.files = append(l.files, f)
	var err error
	if f.content, err = contentOf(l.fsys, name); err != nil {
		l.report(harness.Problem{Place: from, Found: name + ": " + err.Error(), Wanted: "a file that can be read", Hint: l.otherFile(name)})
		return f
	}
	f.text, f.good = l.decode(name, f.content)
	return f
}

// otherFile is the hint of a file that can't be read: the one beside it that is spelt most like it, or what paths are.
func (l *loader) otherFile(name string) string {
	if near := disk.Like(l.fsys, name); near != "" {
		return fmt.Sprintf("did you mean %q?", path.Base(near))
	}
	return "paths are relative to the file they stand in, with / between folders"
}

var errTooLarge = fmt.Errorf("larger than %d MB", maxSize>>20)

// contentOf reads a file that is not too large. A huge one is refused by its size, unread.
func contentOf(fsys fs.FS, name string) ([]byte, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return nil, cause(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, cause(err)
	}
	if info.IsDir() {
		return nil, errors.New("a folder, not a file")
	}
	if info.Size() > maxSize {
		return nil, errTooLarge
	}
	b, err := io.ReadAll(io.LimitReader(f, maxSize+1))
	if err != nil {
		return nil, cause(err)
	}
	if len(b) > maxSize {
		return nil, errTooLarge
	}
	return b, nil
}

// cause strips the path from an error of fs, since the Problem names it already.
func cause(err error) error {
	var p *fs.PathError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errors.New("no such file")
	case errors.Is(err, fs.ErrInvalid):
		return errors.New("outside the folder that may be read")
	case errors.As(err, &p):
		return p.Err
	}
	return err
}

// decode checks that the bytes are UTF-8 text, takes a byte order mark off and makes line ends alike.
func (l *loader) decode(name string, b []byte) (text string, ok bool) {
	s := string(b)
	if strings.HasPrefix(s, "\xff\xfe") || strings.HasPrefix(s, "\xfe\xff") {
		l.notText(name, "", "text in UTF-16")
		return "", false
	}
	s = strings.ReplaceAll(strings.TrimPrefix(s, "\uFEFF"), "\r\n", "\n")
	for i, r := range s {
		switch {
		case r == utf8.RuneError && !strings.HasPrefix(s[i:], "\uFFFD"):
			l.notText(name, s[:i], fmt.Sprintf("byte 0x%02x, which is no UTF-8", s[i]))
			return "", false
		case unsafeInLine(r) && r != '\t' && r != '\n' && !directionMarks[r]:
			l.notText(name, s[:i], fmt.Sprintf("control character %s", shownRune(r)))
			return "", false
		}
	}
	return s, true
}

// directionMarks are the characters of Bidi_Control that only mark a direction, which comments written from right to
// left need. A title or a story may not hold them.
var directionMarks = map[rune]bool{'\u200e': true, '\u200f': true, '\u061c': true}

// shownRune names a character that can't be shown.
func shownRune(r rune) string {
	if r < 0x100 {
		return fmt.Sprintf("0x%02x", r)
	}
	return fmt.Sprintf("U+%04X", r)
}

func (l *loader) notText(name, before, found string) {
	at := harness.Place{File: name, Line: 1 + strings.Count(before, "\n"), Column: 1 + utf8.RuneCountInString(before[1+strings.LastIndexByte(before, '\n'):])}
	l.report(harness.Problem{Place: at, Found: found, Wanted: "text in UTF-8", Hint: "save the file as UTF-8"})
}

// digest is the SHA-256 of all files in the order in which they were first read, each as its length
// (8 bytes, little-endian) and its bytes; of a flight log, which may be large, its own SHA-256 counts as
// its bytes, behind all others. Names are left out: moving a folder changes nothing.
func (l *loader) digest() string {
	h := sha256.New()
	for _, f := range l.files {
		h.Write(binary.LittleEndian.AppendUint64(nil, uint64(len(f.content))))
		h.Write(f.content)
	}
	for _, f := range l.digested {
		sum, _ := hex.DecodeString(f.Sum) // digestOf made it
		h.Write(binary.LittleEndian.AppendUint64(nil, uint64(len(sum))))
		h.Write(sum)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// resolve gives the name of the file that a reference means; ok is false when it can't mean any.
func (l *loader) resolve(v value) (name string, ok bool) {
	ref := v.text()
	if !v.ok() {
		return "", false
	}
	if path.IsAbs(ref) || strings.ContainsAny(ref, "\\:") {
		l.report(harness.Problem{Place: v.at, Found: quote(ref), Wanted: "a path relative to this file", Hint: "write folders with /, as in ../motors/alder.csv"})
		return "", false
	}
	return path.Join(path.Dir(v.at.File), ref), true
}

func isMotor(name string) bool { return strings.HasSuffix(strings.ToLower(name), ".csv") }
