package scenario_test

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
)

// noKeys are problems of a file before its keys are read: their hints say all that there is.
var noKeys = regexp.MustCompile("wanted (plain YAML|each key once|text in UTF-8|a file of the described form|`key: value`|.*as the first key)")

// Each file in testdata/wrong opens with a line `# want [FILE:]LINE:COLUMN WORDS` for every finding.
func TestWrongFilesGiveTheirFindings(t *testing.T) {
	tree := os.DirFS("testdata")
	files, err := fs.Glob(tree, "wrong/*")
	require.NoError(t, err)
	require.Greater(t, len(files), 80, "the set is whole")
	for _, name := range files {
		t.Run(path.Base(name), func(t *testing.T) {
			text, err := fs.ReadFile(tree, name)
			require.NoError(t, err)
			var want []string
			for _, line := range strings.Split(string(text), "\n") {
				if w, is := strings.CutPrefix(line, "# want "); is {
					want = append(want, w)
				}
			}
			if len(want) == 0 {
				require.Contains(t, string(text), "Nothing is wrong in this file alone")
			}
			found := scenario.Lint(tree, name)
			var all []string
			for _, p := range found {
				all = append(all, p.Error())
			}
			require.Len(t, found, len(want), "findings:\n%s", strings.Join(all, "\n"))
			for i, w := range want {
				at, words, _ := strings.Cut(w, " ")
				if strings.Count(at, ":") == 1 {
					at = name + ":" + at
				}
				assert.Equal(t, at, found[i].Place.String(), all[i])
				assert.Contains(t, all[i], words)
				if !noKeys.MatchString(all[i]) {
					assert.NotEmpty(t, found[i].See, "the entry of the reference that tells more: %s", all[i])
				}
			}
		})
	}
}

// bytesFS holds one file; Stat tells its size.
func bytesFS(content string) fs.FS { return fstest.MapFS{"x.yaml": {Data: []byte(content)}} }

func TestWrongBytesGiveTheirFindings(t *testing.T) {
	rows := []struct {
		name, content, want, reason string
	}{
		{"empty", "", "x.yaml:1:1: found an empty file, wanted `drystage: KIND` as the first key; KIND is vehicle, board, scenario, rig, settings, wiring or project", "empty file"},
		{"comments", "# nothing\n", "x.yaml:1:1: found an empty file", "only comments"},
		{"UTF-16 little", "\xff\xfed\x00r\x00", "x.yaml:1:1: found text in UTF-16, wanted text in UTF-8", "byte order mark"},
		{"UTF-16 big", "\xfe\xff\x00d", "x.yaml:1:1: found text in UTF-16", "byte order mark"},
		{"Latin-1", "drystage: scenario\ntitle: K\xe4lte\n", "x.yaml:2:9: found byte 0xe4, which is no UTF-8", "wrong encoding"},
		{"NUL", "drystage: scenario\n# é\x00\n", "x.yaml:2:4: found control character 0x00", "binary; columns count characters"},
		{"flow depth", strings.Repeat("[", 1<<14), "x.yaml:1:17: found lists or blocks more than 16 deep", "would exhaust the parser's stack"},
		{"block depth", strings.Repeat("- ", 1<<14), "x.yaml:1:33: found lists or blocks more than 16 deep", "the same with dashes"},
		{"alias bomb", "a: &a [x]\nb: &b [*a,*a]\n", "x.yaml:1:4: found an anchor (&)", "refused before it is expanded"},
		{"complex key", "? a\n: b\n", "x.yaml:1:1: found a complex key (?)", "refused"},
		{"directive", "%YAML 1.1\n---\na: 1\n", "x.yaml:1:1: found a directive (%)", "refused"},
		{"flood", strings.Repeat("- 1\n", 40000), "x.yaml:15001:1: found a file of more than 30000 words and marks", "bounds the work"},
		{"carriage return", "drystage: scenario\rtitle: x\n", "x.yaml:1:19: found control character 0x0d", "no line end of today"},
		{"C1", "drystage: scenario\ntitle: a\u009b1mb\n", "x.yaml:2:9: found control character 0x9b", "a terminal takes it for an escape"},
		{"order turned", "drystage: scenario\n# a\u202eb\n", "x.yaml:2:4: found control character U+202E", "what a reader sees is not what there is"},
		{"order isolated", "drystage: scenario\nstory: \u2066b\n", "x.yaml:2:8: found control character U+2066", "the same"},
		{"order turned by an escape", "drystage: scenario\nvehicle: v\ntitle: \"a\\u202Eb\"\n", `x.yaml:3:8: found "a\u202eb", wanted text of at most 120 characters, without characters that control how it is shown`, "a title is printed"},
		{"a mark in a title", "drystage: scenario\nvehicle: v\ntitle: a\u200fb\n", `x.yaml:3:8: found "a\u200fb"`, "a title is printed"},
		{"a colour in a story", "drystage: scenario\nvehicle: v\nstory: \"a\\e[31mb\"\n", `x.yaml:3:8: found "a\x1b[31mb"`, "a story is printed"},
		{"empty mapping", "{}", "x.yaml:1:1: found a block of keys, wanted `drystage:", "no key at all"},
		{"scalar", "hello", `x.yaml:1:1: found "hello", wanted`, "no block"},
		{"null kind", "drystage:\n", "x.yaml:1:1: found drystage: no value", "a key without value"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			found := scenario.Lint(bytesFS(row.content), "x.yaml")
			require.NotEmpty(t, found, row.reason)
			assert.Contains(t, all(found), row.want, row.reason)
		})
	}
}

func all(found []harness.Problem) (text string) {
	for _, p := range found {
		text += p.Error() + "\n"
	}
	return text
}

// The place of a key must be right after every kind of text above it.
func TestPlacesAfterLongTexts(t *testing.T) {
	rows := []string{
		"story: >\n  one\n\n  two\n", "story: |\n  one\n   two\n\n\n", "story: >-\n\n  one\n", "story: one\n  two\n  three\n", "story: \"one\n  two\n\n  three\"\n",
		"story: 'one\n\n  two'\n", "# one\n\n# two\nstory: x # three\n\n\n", "weather: {temperature: 5 degC,\n  # why\n  pressure: 950 hPa\n}\n", "story: 'é “ü” 🚀'\n",
		"faults: [\n]\n", "seed: 3   \nstory: >  # so\n  x\n", "commands:\n- at: start + 1 s\n  give: arm\n\n",
	}
	for _, text := range rows {
		for _, end := range []string{"\n", "\r\n"} {
			all := "drystage: scenario\nlike: full.yaml\n" + text
			want := fmt.Sprintf("x.yaml:%d:1: found unknown key \"wrong\"", 1+strings.Count(all, "\n"))
			tree := goodTree(t)
			tree["x.yaml"] = &fstest.MapFile{Data: []byte(strings.ReplaceAll(all+"wrong: 1\n", "\n", end))}
			found := scenario.Lint(tree, "x.yaml")
			require.Len(t, found, 1, text)
			assert.Contains(t, found[0].Error(), want, text)
		}
	}
}

// hugeFS is a file that claims a size, and gives bytes for ever when read. It counts them.
type hugeFS struct {
	size int64
	read *int
}

func (h hugeFS) Open(string) (fs.File, error) { return h, nil }
func (h hugeFS) Stat() (fs.FileInfo, error)   { return h, nil }
func (h hugeFS) Read(b []byte) (int, error) {
	*h.read += len(b)
	return copy(b, bytes.Repeat([]byte{'#'}, len(b))), nil
}
func (h hugeFS) Close() error       { return nil }
func (h hugeFS) Name() string       { return "x.yaml" }
func (h hugeFS) Size() int64        { return h.size }
func (h hugeFS) Mode() fs.FileMode  { return 0o644 }
func (h hugeFS) ModTime() time.Time { return time.Time{} }
func (h hugeFS) IsDir() bool        { return false }
func (h hugeFS) Sys() any           { return nil }

func TestHugeFileIsRefusedUnread(t *testing.T) {
	read := 0
	found := scenario.Lint(hugeFS{100 << 20, &read}, "x.yaml")
	require.Len(t, found, 1)
	assert.Equal(t, "x.yaml: found x.yaml: larger than 1 MB, wanted a file that can be read; paths are relative to the file they stand in, with / between folders", found[0].Error())
	assert.Zero(t, read, "its size is enough")

	found = scenario.Lint(hugeFS{0, &read}, "x.yaml")
	require.Len(t, found, 1)
	assert.Contains(t, found[0].Error(), "larger than 1 MB", "a pipe or a liar is cut off")
	assert.LessOrEqual(t, read, 4<<20)
}

type brokenFS struct{}

func (brokenFS) Open(string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: "secret", Err: errors.New("on fire")}
}

func TestFilesThatCannotBeOpened(t *testing.T) {
	found := scenario.Lint(brokenFS{}, "x.yaml")
	require.Len(t, found, 1)
	assert.Contains(t, found[0].Error(), "x.yaml: on fire")
	found = scenario.Lint(os.DirFS("testdata"), "good")
	require.Len(t, found, 1)
	assert.Contains(t, found[0].Error(), "a folder, not a file")
	_, found = scenario.Load(os.DirFS("testdata"), "../good/full.yaml")
	require.Len(t, found, 1)
	assert.Contains(t, found[0].Error(), "outside the folder that may be read")
}

// Cutting a good file anywhere must give findings or a plan, never a panic.
func TestCutFilesNeverPanic(t *testing.T) {
	for _, name := range []string{"full.yaml", "vehicle.yaml", "sustainer.yaml", "alder.csv"} {
		text, err := os.ReadFile("testdata/good/" + name)
		require.NoError(t, err)
		tree := goodTree(t)
		for n := 0; n < len(text); n += 17 {
			tree[name] = &fstest.MapFile{Data: text[:n]}
			found := scenario.Lint(tree, name)
			require.NotContains(t, fmt.Sprint(found), "breaks on", "cut at %d", n)
			_, _ = scenario.Load(tree, "full.yaml")
		}
	}
}

func goodTree(t testing.TB) fstest.MapFS {
	tree := fstest.MapFS{}
	entries, err := os.ReadDir("testdata/good")
	require.NoError(t, err)
	for _, e := range entries {
		b, err := os.ReadFile("testdata/good/" + e.Name())
		require.NoError(t, err)
		tree[e.Name()] = &fstest.MapFile{Data: b}
	}
	return tree
}

func FuzzLint(f *testing.F) {
	tree := goodTree(f)
	for _, file := range tree {
		f.Add(string(file.Data))
	}
	for _, s := range []string{"{}", "a: [", "? a", "- - -", "drystage: scenario\nlike: x.yaml\n", "drystage: scenario\nlike: full.yaml\nexpect:\n  - {}\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		tree := goodTree(t)
		for _, name := range []string{"x.yaml", "x.csv"} {
			tree[name] = &fstest.MapFile{Data: []byte(text)}
			for _, p := range scenario.Lint(tree, name) {
				if p.File == "" || p.Found == "" || strings.ContainsAny(p.Error(), "\x00\x1b") {
					t.Fatalf("a finding without place or words, or with control characters: %q", p.Error())
				}
			}
			scenario.Load(tree, name)
		}
	})
}
