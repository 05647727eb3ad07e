package rig

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"drystage/harness"
	"drystage/harness/disk"
)

// The levels of simulated drive pins are in a file, so that other processes can see and change them. A rig's file
// chooses only the last word of its path. A file that does not begin with stateHead is never written.
const (
	stateFolder = "simulated-pins" // beside the rig's file
	stateEnding = ".pins"
	stateHead   = "drystage simulated pins\n"
)

var (
	stateWord  = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]{0,15}$`)
	errNotOurs = errors.New("this is no file of simulated pins, so it is left as it is; move it away, or give the rig another `state`")
)

// StateFile is the path of the file with a rig's simulated pins.
func StateFile(rigFile, state string) string {
	return filepath.Join(filepath.Dir(rigFile), stateFolder, state+stateEnding)
}

// openState opens that file, or makes it.
func openState(spec *harness.Rig) (f *os.File, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("the simulated pins' file %s: %w", StateFile(spec.File, spec.State), err)
		}
	}()
	if !stateWord.MatchString(spec.State) {
		return nil, errors.New("`state` is no word")
	}
	beside, err := os.OpenRoot(filepath.Dir(spec.File))
	if err != nil {
		return nil, err
	}
	defer beside.Close()
	if err := beside.Mkdir(stateFolder, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, err
	}
	if info, err := beside.Lstat(stateFolder); err != nil || !info.IsDir() {
		return nil, errors.Join(err, fmt.Errorf("%s is no folder", stateFolder))
	}
	folder, err := beside.OpenRoot(stateFolder)
	if err != nil {
		return nil, err
	}
	defer folder.Close()
	return stateIn(folder, spec.State+stateEnding)
}

// stateIn opens or makes a state file in its folder. It does not follow links.
func stateIn(folder *os.Root, name string) (*os.File, error) {
	f, err := folder.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o644)
	if err == nil {
		if _, err = f.WriteString(stateHead); err == nil {
			return f, nil
		}
		return nil, errors.Join(err, f.Close(), folder.Remove(name))
	}
	if !errors.Is(err, fs.ErrExist) {
		return nil, err
	}
	before, err := folder.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !before.Mode().IsRegular() {
		return nil, errNotOurs
	}
	if f, err = folder.OpenFile(name, os.O_RDWR, 0); err != nil {
		return nil, err
	}
	head := make([]byte, len(stateHead))
	now, err := f.Stat()
	if err == nil {
		_, err = io.ReadFull(f, head)
	}
	if err != nil || !os.SameFile(before, now) || string(head) != stateHead {
		f.Close()
		return nil, errNotOurs
	}
	return f, nil
}

// pinRow is the length of a pin's row in the state file: name, level, newline.
const pinRow = 46

// writePin writes a pin's level into the state file. Rows have a fixed length, so that two processes never overwrite
// each other's.
func writePin(f *os.File, row int, name string, level bool) error {
	word := "low "
	if level {
		word = "high"
	}
	_, err := f.WriteAt(fmt.Appendf(nil, "%-40.40s %s\n", name, word), int64(len(stateHead)+row*pinRow))
	return err
}

// ReadState gives the level of every drive pin in a simulated rig's state file.
func ReadState(file string) (map[string]bool, error) {
	b, err := disk.Read(file)
	if err != nil {
		return nil, fmt.Errorf("rig: %w", err)
	}
	rows, ours := strings.CutPrefix(string(b), stateHead)
	if !ours {
		return nil, fmt.Errorf("rig: %s: %w", file, errNotOurs)
	}
	pins := map[string]bool{}
	for row := range strings.Lines(rows) {
		if f := strings.Fields(row); len(f) == 2 {
			pins[f[0]] = f[1] == "high"
		}
	}
	return pins, nil
}
