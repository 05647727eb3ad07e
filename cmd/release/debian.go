package main

import (
	"bytes"
	"compress/gzip"
	"os"
	"path/filepath"

	"github.com/goreleaser/nfpm/v2"
	"github.com/goreleaser/nfpm/v2/deb"
	"github.com/goreleaser/nfpm/v2/files"
)

// debian makes a Debian package of a program: the manual page, completions of the three shells and the documents are with it.
func (r *release) debian(arch string, program []byte, docs []entry) ([]byte, error) {
	list := []entry{
		{"usr/bin/drystage", 0o755, program},
		{"usr/share/bash-completion/completions/drystage", 0o644, r.shells["bash"]},
		{"usr/share/zsh/vendor-completions/_drystage", 0o644, r.shells["zsh"]},
		{"usr/share/fish/vendor_completions.d/drystage.fish", 0o644, r.shells["fish"]},
	}
	zipped := func(name string, data []byte) error {
		z, err := gzipped(data)
		list = append(list, entry{name, 0o644, z})
		return err
	}
	if err := zipped("usr/share/man/man1/drystage.1.gz", r.man); err != nil {
		return nil, err
	}
	for _, d := range docs {
		var err error
		switch d.name {
		case "CHANGELOG.md":
			err = zipped("usr/share/doc/drystage/changelog.gz", d.data)
		case "LICENSE":
			list = append(list, entry{"usr/share/doc/drystage/copyright", 0o644, d.data})
		default:
			list = append(list, entry{"usr/share/doc/drystage/" + d.name, 0o644, d.data})
		}
		if err != nil {
			return nil, err
		}
	}
	info := nfpm.WithDefaults(&nfpm.Info{
		Name: "drystage", Arch: arch, Version: r.version, VersionSchema: "none", MTime: r.when,
		Maintainer: "The drystage developers <drystage@localhost>", Section: "science", Priority: "optional", License: "MIT",
		Description: description,
	})
	// The library reads files from the disk.
	for _, f := range list {
		from := filepath.Join(r.dir, "debian", arch, f.name)
		if err := os.MkdirAll(filepath.Dir(from), 0o755); err != nil {
			return nil, err
		}
		if err := os.WriteFile(from, f.data, 0o644); err != nil {
			return nil, err
		}
		info.Contents = append(info.Contents, &files.Content{Source: from, Destination: "/" + f.name,
			FileInfo: &files.ContentFileInfo{Owner: "root", Group: "root", Mode: os.FileMode(f.mode), MTime: r.when}})
	}
	var out bytes.Buffer
	err := deb.Default.Package(info, &out)
	return out.Bytes(), err
}

// gzipped packs without a name and a time, as Debian wants its documents.
func gzipped(data []byte) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(data); err != nil {
		return nil, err
	}
	err = z.Close()
	return b.Bytes(), err
}

// description has a line of summary, then the text.
const description = `flies a rocket's flight computer on the bench
A simulated flight makes what the sensors of a flight computer would say, the
board decides, its outputs change the flight, and scenario files judge it.

For inert benches only: no motor, igniter or charge connected, dummy loads
only, current-limited supply.`
