package logs

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"drystage/harness"
	"drystage/harness/disk"
	"drystage/harness/files/record"
)

// FileOptions of OpenFile; the zero value is good.
type FileOptions struct {
	// Progress is called with the file of a table or of sentences. It gives what is told the number of bytes read
	// now and then, and what is called when all is read.
	Progress func(f *os.File) (told func(read int64), done func())
	Proposed func(*Proposal) // called with the mapping that is used if none is given; nil: not told
}

// OpenFile reads a log of any kind. mapping is the file that says what a table's columns mean; empty: it is
// proposed from the table. role is the board of a record; empty: the first.
func OpenFile(name, mapping, role string, opt FileOptions) (*Log, error) {
	f, err := disk.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	kind := Sniff(bufio.NewReader(f))
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	if kind == Record {
		rec, err := record.Read(bufio.NewReader(f))
		if err != nil {
			return nil, harness.Errorf("%s: %w", name, err)
		}
		bay, err := rec.Bay(role)
		if err != nil {
			return nil, err
		}
		return FromRecord(&rec, bay)
	}
	m, err := OpenMapping(mapping)
	if err != nil {
		return nil, err
	}
	read := Options{}
	if opt.Progress != nil {
		var done func()
		read.Told, done = opt.Progress(f)
		defer done()
	}
	return ReadText(f, harness.Printable(name), m, read, opt.Proposed)
}

// OpenMapping reads the file of a mapping; an empty name gives none.
func OpenMapping(name string) (*Mapping, error) {
	if name == "" {
		return nil, nil
	}
	b, err := disk.Read(name)
	if err != nil {
		var p *fs.PathError
		if errors.As(err, &p) {
			err = p.Err
		}
		return nil, harness.Errorf("--mapping %s: %w, wanted a mapping file, as --propose-mapping FILE writes it", name, err)
	}
	return ReadMapping(b, filepath.ToSlash(name))
}
