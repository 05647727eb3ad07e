package scenario

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"slices"
	"strings"
	"time"

	"drystage/harness"
)

// kept gives all files that were read, for the plan to keep.
func (l *loader) kept() []harness.File {
	var all []harness.File
	for _, f := range l.files {
		all = append(all, harness.File{Name: f.name, Text: string(f.content)})
	}
	return append(all, l.large...)
}

// shelf is the files of a plan as a file system.
type shelf []harness.File

// Open opens a file whose text was kept.
func (s shelf) Open(name string) (fs.File, error) {
	i := slices.IndexFunc(s, func(f harness.File) bool { return f.Name == name && f.Sum == "" })
	if i < 0 {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &copyOf{&s[i], strings.NewReader(s[i].Text)}, nil
}

// sum gives the digest of a file of which no more was kept.
func (s shelf) sum(name string) (string, error) {
	i := slices.IndexFunc(s, func(f harness.File) bool { return f.Name == name && f.Sum != "" })
	if i < 0 {
		return "", fs.ErrNotExist
	}
	if b, err := hex.DecodeString(s[i].Sum); err != nil || len(b) != sha256.Size || s[i].Text != "" {
		return "", fs.ErrInvalid
	}
	return s[i].Sum, nil
}

// copyOf is one file of a shelf, open, and what fs tells of it.
type copyOf struct {
	file *harness.File
	*strings.Reader
}

func (c *copyOf) Stat() (fs.FileInfo, error) { return c, nil }
func (c *copyOf) Close() error               { return nil }
func (c *copyOf) Name() string               { return c.file.Name }
func (c *copyOf) Size() int64                { return int64(len(c.file.Text)) }
func (c *copyOf) Mode() fs.FileMode          { return 0o444 }
func (c *copyOf) ModTime() time.Time         { return time.Time{} }
func (c *copyOf) IsDir() bool                { return false }
func (c *copyOf) Sys() any                   { return nil }
