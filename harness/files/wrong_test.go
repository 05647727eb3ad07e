package files

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"
)

// TestWrongFiles reads the files of testdata/wrong. Their first lines, `# want LINE:COLUMN: WORDS`, say
// what must be found in them, and nothing else may be.
func TestWrongFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/wrong/*")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 30)
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			ps := Lint(os.DirFS("../.."), "harness/files/"+filepath.ToSlash(name))
			wants := wanted(t, name)
			if wants == nil { // files without room for a comment
				require.NotEmpty(t, ps)
				require.NotZero(t, ps[0].Line, "%s", ps[0])
				return
			}
			for _, w := range wants {
				place, words, _ := strings.Cut(w, ": ")
				found := false
				for _, p := range ps {
					at := fmt.Sprintf("%d:%d", p.Line, p.Column)
					found = found || at == place && strings.Contains(p.Error(), words)
				}
				require.True(t, found, "wanted %s, got %v", w, ps)
			}
			require.Len(t, ps, len(wants), "%v", ps)
		})
	}
}

func wanted(t *testing.T, name string) (wants []string) {
	f, err := os.Open(name)
	require.NoError(t, err)
	defer f.Close()
	for s := bufio.NewScanner(f); s.Scan(); {
		w, ok := strings.CutPrefix(s.Text(), "# want ")
		if !ok {
			break
		}
		wants = append(wants, w)
	}
	return wants
}

// endless is a file of 100 MB that counts what is read of it.
type endless struct{ read *int }

func (e endless) Open(name string) (fs.File, error) { return e, nil }
func (e endless) Stat() (fs.FileInfo, error)        { return nil, fs.ErrInvalid }
func (e endless) Close() error                      { return nil }
func (e endless) Read(p []byte) (int, error) {
	if *e.read >= 100e6 {
		return 0, io.EOF
	}
	*e.read += len(p)
	copy(p, bytes.Repeat([]byte("a: b\n"), len(p)/5+1))
	return len(p), nil
}

func TestHugeFileIsRefusedUnread(t *testing.T) {
	read := 0
	ps := Lint(endless{&read}, "huge.yaml")
	require.Len(t, ps, 1)
	require.Contains(t, ps[0].Error(), "huge.yaml: found a file of more than 1 MiB")
	require.Less(t, read, 3<<20)
}

func TestAllFindingsOfAllFilesInOrder(t *testing.T) {
	fsys := fstest.MapFS{
		"s.yaml": {Data: []byte("drystage: scenario\nvehicle: v.yaml\nboards: {}\nexpect:\n- {alive: nobody}\nsede: 3\n"), ModTime: time.Time{}},
		"v.yaml": {Data: []byte("drystage: vehicle\nname: V\nstages: []\nrail: {length: 1 kg}\n")},
	}
	_, ps := Load(fsys, "s.yaml")
	var places []string
	for _, p := range ps {
		places = append(places, p.Place.String())
	}
	require.Equal(t, []string{"s.yaml:1:1", "s.yaml:6:1", "v.yaml:1:1", "v.yaml:3:9", "v.yaml:4:7", "v.yaml:4:16"}, places, "%v", ps)
}

func FuzzLint(f *testing.F) {
	for _, pattern := range []string{"testdata/wrong/*", "../../scenarios/*.yaml", "../../scenarios/*/*"} {
		files, err := filepath.Glob(pattern)
		require.NoError(f, err)
		for _, name := range files {
			text, err := os.ReadFile(name)
			require.NoError(f, err)
			f.Add(text)
		}
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		for _, name := range []string{"x.yaml", "x.csv"} {
			for _, p := range Lint(fstest.MapFS{name: {Data: text}}, name) {
				if p.Found == "" {
					t.Fatalf("a problem that does not say what was found: %+v", p)
				}
			}
		}
	})
}
