package scenario_test

import (
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/files/scenario"
)

// TestKind tells what a file is. Whatever Load takes as a scenario, Kind calls one.
func TestKind(t *testing.T) {
	const rest = "\ntitle: T\n"
	rows := []struct {
		reason, text, kind, problem string
	}{
		{"plain", "drystage: scenario" + rest, "scenario", ""},
		{"a comment behind it", "drystage: scenario # the first" + rest, "scenario", ""},
		{"the kind in quotes", `drystage: "scenario"` + rest, "scenario", ""},
		{"the key in quotes", `'drystage': scenario` + rest, "scenario", ""},
		{"a byte order mark", "\uFEFFdrystage: scenario" + rest, "scenario", ""},
		{"a document's header", "---\ndrystage: scenario" + rest, "scenario", ""},
		{"a document's header with a comment", "--- # doc\ndrystage: scenario" + rest, "scenario", ""},
		{"in flow style", "{drystage: scenario, title: T}\n", "scenario", ""},
		{"in flow style behind the header", "--- {drystage: scenario, title: T}\n", "scenario", ""},
		{"the value on the next line", "drystage:\n  scenario" + rest, "scenario", ""},
		{"a space before the colon", "drystage : scenario" + rest, "scenario", ""},
		{"behind a long comment", "# " + strings.Repeat("long ", 20000) + "\ndrystage: scenario" + rest, "scenario", ""},
		{"lines of DOS", "# c\r\ndrystage: scenario\r\ntitle: T\r\n", "scenario", ""},
		{"a board", "drystage: board\n", "board", ""},
		{"what columns mean", "drystage: mapping\n", "mapping", ""},

		{"settings of something else", "services:\n  drystage: {image: x}\n", "", ""},
		{"a list", "- drystage\n", "", ""},
		{"a word", "drystage\n", "", ""},
		{"anchors of something else", "a: &a {b: 1}\nc: *a\n", "", ""},
		{"documents of something else", "a: 1\n---\nb: 2\n", "", ""},
		{"a key that is somewhat near", "stage: test\n", "", ""},

		{"our key further down", "title: T\ndrystage: scenario\n", "", `x.yaml:1:1: found first key "title"`},
		{"our key in a second document", "a: 1\n---\ndrystage: scenario\n", "", "x.yaml:2:1: found a second document (---)"},
		{"our key beside an anchor", "drystage: scenario\ntitle: &t T\n", "", "x.yaml:2:8: found an anchor (&)"},
		{"all of it below an anchor", "&a\ndrystage: scenario\n", "", "x.yaml:1:1: found an anchor (&)"},
		{"a complex key", "? drystage\n: scenario\n", "", "x.yaml:1:1: found a complex key (?)"},
		{"a kind that there isn't", "drystage: senario\n", "", `did you mean "scenario"?`},
		{"a key near ours", "Drystag: scenario\n", "", `did you mean "drystage"?`},
		{"the key twice", "drystage: board\ndrystage: scenario\n", "", `key "drystage" again`},
		{"no value", "drystage:\ntitle: T\n", "", "drystage: no value"},
		{"nothing", "", "", "an empty file"},
		{"a comment alone", "# drystage: scenario\n", "", "an empty file"},
		{"broken", "drystage: [scenario\n", "", "broken YAML"},
		{"no text", "drystage: scenario\xff\n", "", "no UTF-8"},
		{"too large", "# " + strings.Repeat("large", 1<<18), "", "larger than 1 MB"},
	}
	for _, row := range rows {
		t.Run(row.reason, func(t *testing.T) {
			kind, problems := scenario.Kind(bytesFS(row.text), "x.yaml")
			require.Equal(t, row.kind, kind)
			if row.problem == "" {
				require.Empty(t, problems)
				for _, p := range scenario.Lint(bytesFS(row.text), "x.yaml") {
					require.True(t, row.kind == "mapping" || row.kind == "" || !strings.Contains(p.Found, "first key"), p.Error())
				}
				return
			}
			require.NotEmpty(t, problems)
			assert.Contains(t, problems[0].Error(), row.problem)
		})
	}
	_, problems := scenario.Kind(fstest.MapFS{}, "gone.yaml")
	require.Len(t, problems, 1)
	assert.Contains(t, problems[0].Error(), "no such file")
}

func TestKindOfTables(t *testing.T) {
	for _, row := range []struct{ reason, text, kind string }{
		{"a motor", "# name: M\n# propellant: 46 g\ntime_s,thrust_n\n0,0\n", "motor"},
		{"a motor without a header block", "time_s, thrust_n\n0,0\n", "motor"},
		{"a motor whose column is misspelt", "time_s,thrst_n\n0,0\n", "motor"},
		{"a motor without a curve", "# name: M\n# propellant: 46 g\n", "motor"},
		{"the truth of a flight", "time_s,stage,body,events,position_east_m\r\n0,booster,all,,0\r\n", ""},
		{"a table with a name", "# name: T\ntime,height\n", ""},
		{"no text", "time\xff\x00", ""},
		{"a large one", strings.Repeat("0,0,0,0\n", 1<<18), ""},
		{"nothing", "", ""},
	} {
		tree := fstest.MapFS{"x.csv": {Data: []byte(row.text)}}
		kind, problems := scenario.Kind(tree, "x.csv")
		require.Equal(t, row.kind, kind, row.reason)
		require.Empty(t, problems, row.reason)
	}
	_, problems := scenario.Kind(closed{}, "x.csv")
	require.Len(t, problems, 1, "a table that can't be opened")
}

// closed has files that nobody may open.
type closed struct{}

func (closed) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrPermission}
}
