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

// filesRead gives all files that were read, for the plan to keep.
func (l *loader) filesRead() []harness.File {
	var all []harness.File
	for _, f := range l.files {
		all = append(all, harness.File{Name: f.name, Text: string(f.content)})
	}
	return append(all, l.digested...)
}

// keptFiles is a file system of the files that a plan has kept.
type keptFiles []harness.File

// Open opens a file whose text was kept.
func (s keptFiles) Open(name string) (fs.File, error) {
	i := slices.IndexFunc(s, func(f harness.File) bool { return f.Name == name && f.Sum == "" })
	if i < 0 {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &openFile{&s[i], strings.NewReader(s[i].Text)}, nil
}

// sum gives the digest of a file of which only that was kept.
func (s keptFiles) sum(name string) (string, error) {
	i := slices.IndexFunc(s, func(f harness.File) bool { return f.Name == name && f.Sum != "" })
	if i < 0 {
		return "", fs.ErrNotExist
	}
	if b, err := hex.DecodeString(s[i].Sum); err != nil || len(b) != sha256.Size || s[i].Text != "" {
		return "", fs.ErrInvalid
	}
	return s[i].Sum, nil
}

// openFile is one of the kept files, open for reading, and its fs.FileInfo.
type openFile struct {
	file *harness.File
	*strings.Reader
}

func (c *openFile) Stat() (fs.FileInfo, error) { return c, nil }
func (c *openFile) Close() error               { return nil }
func (c *openFile) Name() string               { return c.file.Name }
func (c *openFile) Size() int64                { return int64(len(c.file.Text)) }
func (c *openFile) Mode() fs.FileMode          { return 0o444 }
func (c *openFile) ModTime() time.Time         { return time.Time{} }
func (c *openFile) IsDir() bool                { return false }
func (c *openFile) Sys() any                   { return nil }
