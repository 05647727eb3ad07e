package main

import (
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"

	"drystage/harness/files/scenario"
)

// walk goes through all files below folders, and follows links to others. Each folder is walked once, and none
// that holds the first one, so that circles end.
type walk struct {
	each   func(f file)            // of files, and links to files
	broken func(f file, err error) // what can't be looked at

	folders []fs.FileInfo // that were walked
	links   []file        // to folders, for later: what has a place of its own is named by it
}

func (w *walk) below(f file) {
	w.folders = nil
	if f.fsys == (scenario.Disk{}) {
		w.folders = above(f.name)
	}
	w.folder(f)
	for len(w.links) > 0 {
		next := w.links[0]
		w.links = w.links[1:]
		w.folder(next)
	}
}

// above gives the folders that hold a folder of the disk.
func above(name string) (list []fs.FileInfo) {
	abs, err := filepath.Abs(name)
	if err == nil {
		abs, err = filepath.EvalSymlinks(abs)
	}
	for err == nil && abs != filepath.Dir(abs) {
		abs = filepath.Dir(abs)
		if info, serr := os.Stat(abs); serr == nil {
			list = append(list, info)
		}
	}
	return list
}

func (w *walk) folder(f file) {
	info, err := fs.Stat(f.fsys, f.name)
	if err != nil {
		w.broken(f, err)
		return
	}
	if slices.ContainsFunc(w.folders, func(other fs.FileInfo) bool { return os.SameFile(info, other) }) {
		return
	}
	w.folders = append(w.folders, info)
	entries, err := fs.ReadDir(f.fsys, f.name)
	if err != nil {
		w.broken(f, err)
	}
	for _, e := range entries {
		w.entry(file{f.fsys, path.Join(f.name, e.Name())}, e)
	}
}

func (w *walk) entry(f file, e fs.DirEntry) {
	if e.IsDir() {
		w.folder(f)
		return
	}
	if e.Type()&fs.ModeSymlink != 0 {
		info, err := fs.Stat(f.fsys, f.name)
		switch {
		case err != nil:
			w.broken(f, err)
			return
		case info.IsDir():
			w.links = append(w.links, f)
			return
		}
	}
	w.each(f)
}
