package scenario

import (
	"io/fs"
	"os"
	"path/filepath"
)

// Disk is the machine's file system with paths as a person names them: relative, absolute, with or
// without "..". It is an fs.FS but for its wider idea of a path.
type Disk struct{}

// Open opens a file of the machine.
func (Disk) Open(name string) (fs.File, error) { return os.Open(filepath.FromSlash(name)) }

// Stat tells of a file or folder without opening it.
func (Disk) Stat(name string) (fs.FileInfo, error) { return os.Stat(filepath.FromSlash(name)) }
