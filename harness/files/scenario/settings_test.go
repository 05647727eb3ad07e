package scenario_test

import (
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/setting"
	"drystage/sim/quantity"
)

// What is printed of a list of settings is such a list, and the same, by our own reader and by the schema.
func TestSettingsTextIsAList(t *testing.T) {
	list := append(setting.Builtin(),
		setting.Def{Name: "share", Kind: setting.Quantity, Dim: quantity.Number, Max: 0.5, Default: 0.25, Meaning: `"quoted", # no comment: {}`},
		setting.Def{Name: "turn", Kind: setting.Quantity, Dim: quantity.AngularRate, Min: -1, Max: 1, Default: 0.1, Meaning: "-"})
	text := scenario.SettingsText("the built-in board", list)
	got, problems := scenario.LoadSettings(bytesFS(text), "x.yaml")
	require.Empty(t, problems)
	require.Equal(t, list, got)
	require.NoError(t, validate(t, "settings", text))
}

// TestSettingsOfAScenario: those of a scenario are held against the same list as the board's own, and its outputs.
func TestSettingsOfAScenario(t *testing.T) {
	tree := fstest.MapFS{}
	require.NoError(t, copyTree(tree, "testdata/good"))
	old := "settings: {main_height: 500 ft, extra: 12.5 %}"
	for _, row := range []struct{ reason, settings, problem string }{
		{"as it is", old, ""},
		{"an output of the board", "settings: {staging_channel: 4}", ""},
		{"none", "settings: {staging_channel: 0}", ""},
		{"a channel without an output", "settings: {staging_channel: 5}", "found staging_channel: 5, a channel without an output, wanted 0 for none, or an output of the board: 1 (ignite), 2 (drogue), 3 (main) or 4 (lamp)"},
		{"another dimension", "settings: {main_height: 300 s}", `found "300 s", which is a time, wanted a length`},
		{"no unit", "settings: {staging_delay: 2}", `which has no unit`},
		{"out of range", "settings: {staging_delay: 61 s}", "wanted a time from 0 s to 60 s"},
		{"misspelt", "settings: {main_hight: 1 m}", `did you mean "main_height"?`},
	} {
		full := strings.Replace(string(mustRead(t, "testdata/good/full.yaml")), old, row.settings, 1)
		tree["full.yaml"] = &fstest.MapFile{Data: []byte(full)}
		plan, problems := scenario.Load(tree, "full.yaml")
		if row.problem == "" {
			require.Empty(t, problems, row.reason)
			require.Contains(t, plan.Boards[0].Settings, harness.Setting{Name: "quiet", Value: 1})
			continue
		}
		require.Len(t, problems, 1, row.reason)
		require.Contains(t, problems[0].Error(), row.problem, row.reason)
		require.Equal(t, "full.yaml", problems[0].File)
	}
}

// TestUse: what a scenario says of a board, by itself or by the one that it is like, in its own words.
func TestUse(t *testing.T) {
	tree := os.DirFS("testdata")
	for _, name := range []string{"good/full.yaml", "good/like.yaml"} {
		file, settings, problems := scenario.Use(tree, name, "sustainer")
		require.Empty(t, problems)
		require.Equal(t, "good/sustainer.yaml", file)
		require.Equal(t, [][2]string{{"main_height", "500 ft"}, {"extra", "12.5 %"}}, settings)
	}
	_, _, problems := scenario.Use(tree, "good/gone.yaml", "sustainer")
	require.NotEmpty(t, problems)
}

func mustRead(t *testing.T, name string) []byte {
	b, err := os.ReadFile(name)
	require.NoError(t, err)
	return b
}

func copyTree(tree fstest.MapFS, dir string) error {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		b, rerr := os.ReadFile(dir + "/" + e.Name())
		if rerr != nil {
			return rerr
		}
		tree[e.Name()] = &fstest.MapFile{Data: b}
	}
	return err
}
