package files

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"

	"drystage/harness"
)

func compiled(t *testing.T, kind string) *jsonschema.Schema {
	text, err := Schema(kind)
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource(kind+".json", doc))
	s, err := c.Compile(kind + ".json")
	require.NoError(t, err)
	return s
}

// TestShippedFilesFulfilTheSchemas validates every shipped file against its schema with an independent
// library.
func TestShippedFilesFulfilTheSchemas(t *testing.T) {
	seen := map[string]int{}
	for _, pattern := range []string{"*.yaml", "*/*.yaml"} {
		files, err := filepath.Glob("../../scenarios/" + pattern)
		require.NoError(t, err)
		for _, name := range files {
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			var doc map[string]any
			require.NoError(t, yaml.Unmarshal(text, &doc), name)
			kind, ok := doc["drystage"].(string)
			require.True(t, ok, name)
			seen[kind]++
			require.NoError(t, compiled(t, kind).Validate(plainJSON(doc)), name)
		}
	}
	motors, err := filepath.Glob("../../scenarios/motors/*.csv")
	require.NoError(t, err)
	for _, name := range motors {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		head := map[string]any{}
		for line := range strings.Lines(string(text)) {
			if key, val, ok := strings.Cut(strings.TrimPrefix(line, "# "), ": "); ok && line[0] == '#' {
				head[key] = strings.TrimSpace(val)
			}
		}
		seen["motor"]++
		require.NoError(t, compiled(t, "motor").Validate(head), name)
	}
	for _, kind := range Kinds() {
		require.NotZero(t, seen[kind], kind)
	}
}

// plainJSON turns what a YAML library gives into what a JSON library gives.
func plainJSON(x any) any {
	switch x := x.(type) {
	case map[string]any:
		for k, v := range x {
			x[k] = plainJSON(v)
		}
	case []any:
		for i, v := range x {
			x[i] = plainJSON(v)
		}
	case uint64:
		return float64(x)
	case int64:
		return float64(x)
	}
	return x
}

func TestSchemasRefuseWhatTheLoaderRefuses(t *testing.T) {
	for _, c := range []struct {
		reason, kind string
		doc          map[string]any
	}{
		{"an unknown key", "scenario", map[string]any{"drystage": "scenario", "expcet": []any{}}},
		{"another kind", "board", map[string]any{"drystage": "vehicle"}},
		{"a quantity without a unit", "scenario", map[string]any{"drystage": "scenario", "launch": 5.0}},
		{"a unit of another dimension", "scenario", map[string]any{"drystage": "scenario", "launch": "5 m"}},
		{"a fault of no kind", "scenario", map[string]any{"drystage": "scenario", "faults": []any{map[string]any{"gremlin": "x"}}}},
	} {
		t.Run(c.reason, func(t *testing.T) {
			require.Error(t, compiled(t, c.kind).Validate(c.doc))
		})
	}
	_, err := Schema("vehicel")
	require.ErrorContains(t, err, "did you mean `vehicle`?")
}

// TestLoad holds what was read of the nominal scenario against what stands in its files.
func TestLoad(t *testing.T) {
	p, ps := Load(os.DirFS("../.."), "scenarios/nominal.yaml")
	require.Empty(t, ps)
	s := &p.Setup
	require.Equal(t, "nominal", p.Name)
	require.Len(t, p.Digest, 64)
	require.InDelta(t, 0.054, s.Vehicle.Stages[0].Diameter, 1e-15)
	require.InDelta(t, 0.640, s.Vehicle.Stages[0].Mass, 1e-15)
	require.InDelta(t, 96000, s.Vehicle.Site.Pressure, 1e-9)
	require.InDelta(t, 288.15, s.Vehicle.Site.Temperature, 1e-9)
	require.InDelta(t, 47.1*degree, s.Vehicle.Site.Latitude, 1e-12)
	require.False(t, s.Vehicle.Stages[0].Inertia.Estimated)
	require.Equal(t, []string{"sustainer", "booster"}, []string{s.Bays[0].Name, s.Bays[1].Name}, "boards in the order written")
	require.Equal(t, []int{0, 1}, []int{s.Bays[0].Stage, s.Bays[1].Stage})
	require.Contains(t, p.Boards[0].Settings, harness.Setting{Name: "staging_delay", Value: 1.8})
	require.Equal(t, "fires: sustainer.drogue, from apogee - 0.5 s, to apogee + 1 s", p.Expect[4].Text)
	require.EqualValues(t, -500e6, p.Expect[4].From.Offset)
	again, _ := Load(os.DirFS("../.."), "scenarios/nominal.yaml")
	require.Equal(t, p, again)
}

// TestStandardAir checks the default pressure and temperature of a site against ISO 2533:1975, table of
// geometric altitude, as transcribed in the public library metanorma/atmospheric.
func TestStandardAir(t *testing.T) {
	for _, row := range []struct{ z, kelvin, pascal float64 }{{500, 284.900, 95461.2}, {1000, 281.651, 89876.3}, {5000, 255.676, 54048.3}} {
		kelvin, pascal := standardAir(row.z)
		require.InDelta(t, row.kelvin, kelvin, 0.0006)
		require.InEpsilon(t, row.pascal, pascal, 2e-6)
	}
}
