package suite

import (
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"

	"drystage/harness/files/scenario"
)

// Walk goes through all files below a folder, and follows links to others. Each folder is walked once, and none
// that holds the first one, so that circles end. each is given files, and links to files; broken what can't be
// read.
func Walk(f File, each func(f File), broken func(f File, err error)) {
	(&walk{each: each, broken: broken}).below(f)
}

type walk struct {
	each   func(f File)            // of Files, and links to files
	broken func(f File, err error) // what can't be looked at

	folders []fs.FileInfo // that were walked
	links   []File        // to folders, for later: what has a place of its own is named by it
}

func (w *walk) below(f File) {
	if f.FS == (scenario.Disk{}) {
		w.folders = above(f.Name)
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

func (w *walk) folder(f File) {
	info, err := fs.Stat(f.FS, f.Name)
	if err != nil {
		w.broken(f, err)
		return
	}
	if slices.ContainsFunc(w.folders, func(other fs.FileInfo) bool { return os.SameFile(info, other) }) {
		return
	}
	w.folders = append(w.folders, info)
	entries, err := fs.ReadDir(f.FS, f.Name)
	if err != nil {
		w.broken(f, err)
	}
	for _, e := range entries {
		w.entry(File{f.FS, path.Join(f.Name, e.Name())}, e)
	}
}

func (w *walk) entry(f File, e fs.DirEntry) {
	if e.IsDir() {
		w.folder(f)
		return
	}
	if e.Type()&fs.ModeSymlink != 0 {
		info, err := fs.Stat(f.FS, f.Name)
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
