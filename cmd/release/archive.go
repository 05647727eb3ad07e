package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"path"
	"slices"
	"strings"
)

// tarGzip packs files below a folder.
func (r *release) tarGzip(folder string, files []entry) ([]byte, error) {
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	w := tar.NewWriter(z)
	for _, f := range withFolders(folder, files) {
		h := &tar.Header{Name: f.name, Mode: f.mode, Size: int64(len(f.data)), ModTime: r.when, Uname: "root", Gname: "root", Format: tar.FormatUSTAR, Typeflag: tar.TypeReg}
		if strings.HasSuffix(f.name, "/") {
			h.Typeflag = tar.TypeDir
		}
		if err := w.WriteHeader(h); err != nil {
			return nil, err
		}
		if _, err := w.Write(f.data); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	err = z.Close()
	return out.Bytes(), err
}

// withFolders puts files below a folder and adds the folders that they are in, sorted.
func withFolders(folder string, files []entry) (all []entry) {
	add := func(e entry) {
		if !slices.ContainsFunc(all, func(x entry) bool { return x.name == e.name }) {
			all = append(all, e)
		}
	}
	for _, f := range files {
		f.name = path.Join(folder, f.name)
		for d := path.Dir(f.name); d != "."; d = path.Dir(d) {
			add(entry{d + "/", 0o755, nil})
		}
		add(f)
	}
	slices.SortFunc(all, func(a, b entry) int { return strings.Compare(a.name, b.name) })
	return all
}

// zip packs files below a folder.
func (r *release) zip(folder string, files []entry) ([]byte, error) {
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range files {
		h := &zip.FileHeader{Name: path.Join(folder, f.name), Method: zip.Deflate, Modified: r.when}
		h.SetMode(0o644)
		to, err := w.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		if _, err := to.Write(f.data); err != nil {
			return nil, err
		}
	}
	err := w.Close()
	return out.Bytes(), err
}
