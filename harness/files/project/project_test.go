package project_test

import (
	"bytes"
	"io/fs"
	"math"
	"math/rand/v2"
	"path"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/project"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/verdict"
	"drystage/harness/run"
)

// passes wants every file of a draft to be sound, and every scenario to pass with the built-in board.
func passes(t *testing.T, w project.Wish, files []project.File) {
	fsys := project.FS(files)
	scenarios := 0
	for _, f := range files {
		if strings.HasSuffix(f.Name, ".yaml") {
			for _, p := range scenario.Lint(fsys, f.Name) {
				t.Errorf("%+v: %v", w, p)
			}
		}
		if strings.Contains(f.Name, "/") || !strings.HasSuffix(f.Name, ".yaml") || f.Name == scenario.ProjectFile {
			continue
		}
		scenarios++
		plan, problems := scenario.Load(fsys, f.Name)
		require.Empty(t, problems)
		plans := []harness.Plan{plan}
		opt := run.Options{Link: func(string) (link.Link, error) {
			g, err := mock.New("")
			return link.Memory(g), err
		}}
		b, err := run.Open(t.Context(), opt, plans)
		require.NoError(t, err)
		require.NoError(t, b.Fly(t.Context(), plans, func(_ int, r *harness.Record) error {
			v := verdict.Judge(r)
			for _, x := range v.Warned {
				assert.False(t, x.Missing, "%+v: %s: %s", w, f.Name, x.String())
			}
			for _, x := range v.Findings {
				if x.Answer != harness.Pass {
					t.Errorf("%+v: %s: %s: %s: %s", w, f.Name, x.Answer, x.Text, x.Reason)
				}
			}
			return nil
		}))
		b.Close()
	}
	assert.Equal(t, 6, scenarios)
}

// What people build.
var usual = []project.Wish{
	{Stages: 1, Diameter: 0.029, Mass: 0.25, Impulse: 20},
	{Stages: 1, Diameter: 0.054, Mass: 1.2, Impulse: 120},
	{Stages: 1, Diameter: 0.075, Mass: 5, Impulse: 2000}, // near Mach 1
	{Stages: 1, Diameter: 0.13, Mass: 18, Impulse: 3000},
	{Stages: 2, Diameter: 0.038, Mass: 0.7, Impulse: 80},
	{Stages: 2, Diameter: 0.054, Mass: 1.5, Impulse: 160},
	{Stages: 2, Diameter: 0.098, Mass: 12, Impulse: 2000, Upper: 1500},
}

func TestUsualDraftsPass(t *testing.T) {
	for _, w := range usual {
		w.Name = `The "first": #1`
		files, err := project.Draft(w)
		require.NoError(t, err, "%+v", w)
		passes(t, w, files)
	}
}

// Editors find a file's keys by its first line, which leads to a schema that takes the file, as one that isn't ours reads it.
func TestFilesLeadToTheirSchemas(t *testing.T) {
	w := usual[4]
	w.Name = "Mine"
	files, err := project.Draft(w)
	require.NoError(t, err)
	files, err = project.WithSchemas(files)
	require.NoError(t, err)
	fsys, led := project.FS(files), 0
	for _, f := range files {
		if !scenario.IsYAML(f.Name) {
			continue
		}
		first, _, _ := strings.Cut(f.Text, "\n")
		to, is := strings.CutPrefix(first, "# yaml-language-server: $schema=")
		require.True(t, is, f.Name)
		text, err := fs.ReadFile(fsys, path.Join(path.Dir(f.Name), to))
		require.NoError(t, err, f.Name)
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		require.NoError(t, err)
		c := jsonschema.NewCompiler()
		require.NoError(t, c.AddResource("x.json", doc))
		s, err := c.Compile("x.json")
		require.NoError(t, err)
		j, err := yaml.YAMLToJSON([]byte(f.Text))
		require.NoError(t, err)
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(j))
		require.NoError(t, err)
		assert.NoError(t, s.Validate(v), f.Name)
		led++
	}
	assert.Equal(t, 11, led)
}

// Whatever is wished for, it is refused with a reason, or a draft that passes its own scenarios.
func TestEveryDraftPasses(t *testing.T) {
	made := 0
	for seed := range uint64(30) {
		r := rand.New(rand.NewPCG(seed, 1))
		between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
		d := between(0.03, 0.16)
		w := project.Wish{Name: "Mine", Stages: 1 + r.IntN(2), Diameter: d, Mass: between(2500, 16000) * d * d * d}
		w.Impulse = w.Mass * between(40, 350)
		files, err := project.Draft(w)
		if err != nil {
			assert.Contains(t, err.Error(), "give ", "%+v", w)
			continue
		}
		made++
		passes(t, w, files)
	}
	assert.Greater(t, made, 8)
}

func TestWrongWishes(t *testing.T) {
	good := usual[1]
	for _, c := range []struct {
		reason string
		change func(*project.Wish)
		words  string
	}{
		{"no name", func(w *project.Wish) { w.Name = "" }, "wanted from 1 to 60 letters"},
		{"three stages", func(w *project.Wish) { w.Stages = 3 }, "found 3 stages, wanted 1 or 2"},
		{"as thin as a pencil", func(w *project.Wish) { w.Diameter = 0.008 }, "diameter: found 0.008 m, wanted from 0.024 m to 0.2 m"},
		{"no number", func(w *project.Wish) { w.Mass = math.NaN() }, "mass at liftoff: found NaN kg"},
		{"no impulse", func(w *project.Wish) { w.Impulse = 0 }, "impulse: found 0 N s, wanted from 5 N s"},
		{"too heavy", func(w *project.Wish) { w.Mass = 12 }, "give more impulse or less mass"},
		{"all motor", func(w *project.Wish) { w.Impulse = 1500 }, "give "},
	} {
		w := good
		w.Name = "Mine"
		c.change(&w)
		_, err := project.Draft(w)
		assert.ErrorContains(t, err, c.words, c.reason)
	}
}
