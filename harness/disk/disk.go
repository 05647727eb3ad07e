// Package disk reads files of this machine, whoever made them and whatever they are called: regular files
// only, so that nothing which looks like a file, a named pipe or a device, holds up or starts anything.
//
// It never writes.
package disk

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"drystage/harness"
	"drystage/harness/spelling"
)

// Open opens a regular file for reading, and refuses all else at once, without opening it. The error of a file that
// isn't there names the one that is spelt most like it.
func Open(name string) (*os.File, error) {
	wrong := func(err error) error { return &fs.PathError{Op: "open", Path: name, Err: err} }
	before, err := os.Stat(name)
	if err != nil {
		if near := Like(Paths{}, filepath.ToSlash(name)); near != "" && errors.Is(err, fs.ErrNotExist) {
			err = fmt.Errorf("%w; did you mean %s?", err, harness.Printable(near))
		}
		return nil, err
	}
	if err := regular(before.Mode()); err != nil {
		return nil, wrong(err)
	}
	f, err := os.OpenFile(name, os.O_RDONLY|atOnce, 0)
	if err != nil {
		return nil, err
	}
	now, err := f.Stat() // another file may have taken its name meanwhile
	if err == nil {
		err = regular(now.Mode())
	}
	if err != nil {
		f.Close()
		return nil, wrong(err)
	}
	return f, nil
}

// Like gives the file or folder beside a name, with the same ending, that is spelt most like it; empty if none is.
func Like(fsys fs.FS, name string) string {
	list, _ := fs.ReadDir(fsys, path.Dir(name))
	ending := path.Ext(name)
	var stems []string
	for _, e := range list {
		if stem, is := strings.CutSuffix(e.Name(), ending); is {
			stems = append(stems, stem)
		}
	}
	near := spelling.Nearest(strings.TrimSuffix(path.Base(name), ending), stems)
	if near == "" {
		return ""
	}
	return path.Join(path.Dir(name), near+ending)
}

// regular says in words what is no regular file.
func regular(m fs.FileMode) error {
	switch {
	case m.IsRegular():
		return nil
	case m.IsDir():
		return errors.New("a folder, not a file")
	case m&fs.ModeNamedPipe != 0:
		return errors.New("a pipe, not a file")
	case m&fs.ModeSocket != 0:
		return errors.New("a socket, not a file")
	case m&fs.ModeDevice != 0:
		return errors.New("a device, not a file")
	}
	return errors.New("not a regular file")
}

// mostSmall is the greatest size of a file that Read takes.
const mostSmall = 1 << 20

// Read reads a small regular file, of 1 MB at most.
func Read(name string) ([]byte, error) {
	f, err := Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, mostSmall+1))
	if err == nil && len(b) > mostSmall {
		err = fmt.Errorf("%s: larger than %d MB", name, mostSmall>>20)
	}
	return b, err
}

// Paths is the machine's file system with paths as a person names them: relative, absolute, with or without
// "..". It is an fs.FS but for its wider idea of a path.
type Paths struct{}

// Open opens a regular file of the machine.
func (Paths) Open(name string) (fs.File, error) { return Open(filepath.FromSlash(name)) }

// Stat tells of a file or folder without opening it.
func (Paths) Stat(name string) (fs.FileInfo, error) { return os.Stat(filepath.FromSlash(name)) }

// ReadDir lists a folder.
func (Paths) ReadDir(name string) ([]fs.DirEntry, error) { return os.ReadDir(filepath.FromSlash(name)) }
