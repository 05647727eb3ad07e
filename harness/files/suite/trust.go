package suite

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/disk"
)

// Trust is the list of projects that may start programs and open ports, sockets and rigs: the user's own file, one line
// for each project's file with the digest that it had when the user looked at it.
type Trust struct {
	File  string
	lines []string
}

const trustHead = "# Projects that may start programs and open ports, sockets and rigs: `drystage trust` writes this file."

// LoadTrust reads the list from the user's folder for settings.
func LoadTrust() (*Trust, error) {
	dir, err := os.UserConfigDir()
	if err != nil {
		return nil, err
	}
	t := &Trust{File: filepath.Join(dir, "drystage", "trusted")}
	text, err := disk.Read(t.File)
	if errors.Is(err, fs.ErrNotExist) {
		return t, nil
	}
	for line := range strings.Lines(string(text)) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			t.lines = append(t.lines, line)
		}
	}
	return t, err
}

// place is how the list names a project's file: without links, and as one word of a line.
func place(p *harness.Project) (string, error) {
	real, err := realPath(filepath.FromSlash(p.File))
	return strconv.Quote(real), err
}

// Has says whether a project is trusted as it is now, and whether it once was with other words in it.
func (t *Trust) Has(p *harness.Project) (now, once bool, err error) {
	name, err := place(p)
	if err != nil {
		return false, false, err
	}
	now = slices.Contains(t.lines, p.Digest+" "+name)
	once = slices.ContainsFunc(t.lines, func(l string) bool { return strings.HasSuffix(l, " "+name) })
	return now, once, nil
}

// Set trusts a project as it is now, or trusts it no more, and gives the list's new text.
func (t *Trust) Set(p *harness.Project, trusted bool) (text string, err error) {
	name, err := place(p)
	if err != nil {
		return "", err
	}
	t.lines = slices.DeleteFunc(t.lines, func(l string) bool { return strings.HasSuffix(l, " "+name) })
	if trusted {
		t.lines = append(t.lines, p.Digest+" "+name)
	}
	return fmt.Sprintln(trustHead) + strings.Join(append(t.lines, ""), "\n"), nil
}
