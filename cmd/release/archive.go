package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"crypto/md5" // dpkg compares files with it
	"fmt"
	"path"
	"slices"
	"strings"

	"drystage/harness/run"
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
		if strings.HasPrefix(folder, "./") || folder == "." {
			f.name = "./" + f.name
		}
		for d := path.Dir(f.name); d != "." && d != "/"; d = path.Dir(d) {
			name := d + "/"
			if strings.HasPrefix(f.name, "./") {
				name = "./" + name
			}
			add(entry{name, 0o755, nil})
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

// debian makes a binary package: an ar archive of a version, the control files and the files (deb(5)).
func (r *release) debian(arch string, program []byte, docs []entry) ([]byte, error) {
	files := []entry{{"usr/bin/drystage", 0o755, program}}
	zipped := func(name string, data []byte) error {
		var b bytes.Buffer
		z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
		if err != nil {
			return err
		}
		if _, err := z.Write(data); err != nil {
			return err
		}
		err = z.Close()
		files = append(files, entry{name, 0o644, b.Bytes()})
		return err
	}
	if err := zipped("usr/share/man/man1/drystage.1.gz", r.man); err != nil {
		return nil, err
	}
	for _, d := range docs {
		name := map[string]string{"LICENSE": "copyright", "CHANGELOG.md": "changelog.gz"}[d.name]
		switch name {
		case "changelog.gz":
			if err := zipped("usr/share/doc/drystage/"+name, d.data); err != nil {
				return nil, err
			}
		case "":
			name = d.name
			fallthrough
		default:
			files = append(files, entry{"usr/share/doc/drystage/" + name, 0o644, d.data})
		}
	}
	files = append(files, entry{"usr/share/bash-completion/completions/drystage", 0o644, r.shells["bash"]},
		entry{"usr/share/fish/vendor_completions.d/drystage.fish", 0o644, r.shells["fish"]})
	size := 0
	var sums strings.Builder
	for _, f := range files {
		size += (len(f.data) + 1023) / 1024
		fmt.Fprintf(&sums, "%x  %s\n", md5.Sum(f.data), f.name)
	}
	control, err := r.tarGzip(".", []entry{{"control", 0o644, controlFile(arch, size)}, {"md5sums", 0o644, []byte(sums.String())}})
	if err != nil {
		return nil, err
	}
	data, err := r.tarGzip(".", files)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	out.WriteString("!<arch>\n")
	for _, m := range []entry{{"debian-binary", 0, []byte("2.0\n")}, {"control.tar.gz", 0, control}, {"data.tar.gz", 0, data}} {
		fmt.Fprintf(&out, "%-16s%-12d%-6d%-6d%-8o%-10d`\n", m.name, r.when.Unix(), 0, 0, 0o100644, len(m.data))
		out.Write(m.data)
		if len(m.data)%2 == 1 {
			out.WriteByte('\n')
		}
	}
	return out.Bytes(), nil
}

// controlFile describes the package; size is in KiB.
func controlFile(arch string, size int) []byte {
	return fmt.Appendf(nil, `Package: drystage
Version: %s
Architecture: %s
Maintainer: The drystage developers <drystage@localhost>
Installed-Size: %d
Section: science
Priority: optional
Description: flies a rocket's flight computer on the bench
 A simulated flight makes what the sensors of a flight computer would say, the
 board decides, its outputs change the flight, and scenario files judge it.
 .
 For inert benches only: no motor, igniter or charge connected, dummy loads
 only, current-limited supply.
`, run.Release, arch, size)
}
