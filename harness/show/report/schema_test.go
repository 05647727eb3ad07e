package report

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/compare"
	"drystage/harness/judge/dispersion"
	"drystage/harness/reference"
)

// compile makes a command's schema fit to check with, by an implementation that isn't ours.
func compile(t *testing.T, command string) *jsonschema.Schema {
	text, ok := Schema(command)
	require.True(t, ok, command)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	require.NoError(t, c.AddResource("x.json", doc))
	s, err := c.Compile("x.json")
	require.NoError(t, err)
	return s
}

// printed gives outputs of each command, as many as have a shape of their own.
func printed(t *testing.T) map[string][]string {
	var found, matrix bytes.Buffer
	h := theHunt()
	h.Command, h.Plan = "drystage hunt scenarios/launch-day.yaml --flights 500", &harness.Plan{File: "scenarios/launch-day.yaml"}
	require.NoError(t, HuntJSON(&found, h, "drystage: scenario\n", options()))
	require.NoError(t, DefectsJSON(&matrix, fourBoards(), options()))
	var sweep bytes.Buffer
	require.NoError(t, SweepJSON(&sweep, allSweeps(), options()))
	return map[string][]string{
		"bench":   {text(t, JSON, all(), compared()), text(t, JSON, suiteOfThree(), options()), text(t, JSON, realTime(), options()), text(t, JSON, suiteOfThree()[:1], Options{})},
		"sweep":   {sweep.String()},
		"hunt":    {found.String()},
		"defects": {matrix.String()},
		"ready":   {sheetText(t, "json", wren(), options()), sheetText(t, "json", hostile(), options()), sheetText(t, "json", clear(), options())},
	}
}

// allSweeps are sweeps in which everything occurs.
func allSweeps() []*dispersion.Sheet {
	list := sweeps()
	s := list[1]
	s.Points = harness.Sobol
	s.Plan.Vary = []harness.Vary{
		{Name: "rail.tilt", What: harness.RailTilt, Unit: "rad", Law: harness.Triangular, Low: 0.02, Mode: 0.05, High: 0.1},
		{Name: "sustainer.battery", What: harness.BatteryVoltage, Unit: "V", Law: harness.Discrete, Low: 7, High: 8.4, Of: []float64{7, 8.4}, Shares: []float64{0.25, 0.75}},
	}
	s.Plan.Correlated = []harness.Correlated{{Pair: [2]string{"rail.tilt", "sustainer.battery"}, Rho: -0.5}}
	s.Further = harness.Count{Pass: 900, Fail: 90, Unsure: 1}
	s.Rare = &dispersion.Rare{
		Estimate: dispersion.Estimate{Value: 1.2e-5, Low: 0.5e-5, High: 2.9e-5}, Variation: 0.4, Flights: 990, Of: 2,
		Levels: []dispersion.Level{{Limit: 0.3, Share: 0.1}, {Share: 0.2}},
		Worst:  dispersion.State{Seed: 77}, Values: []harness.Value{{Name: "rail.tilt", Value: 0.09, Unit: "rad"}},
	}
	addMixed(list[0])
	return list
}

// addMixed gives a sweep the flights that Sobol indices need: the margin falls with the wind alone.
func addMixed(s *dispersion.Sheet) {
	seeds, values := s.Mixed()
	for i := range seeds {
		margin := 4.3 - values[i][0].Value/4
		s.AddMixed(&harness.Verdict{Answer: harness.Pass, Findings: []harness.Finding{{HasMargin: true, Margin: margin}, {}}})
	}
}

// all is a suite in whose verdicts everything occurs.
func all() []harness.Verdict {
	vs := suiteOfThree()
	f := &vs[0].Findings[0]
	f.Place, f.Wanted, f.Seen = harness.Place{File: "scenarios/nominal.yaml", Line: 31, Column: 5}, "on from 12.100 s to 13.600 s", "on at 12.580 s"
	vs[0].Boards[0].SelfArmed = 2
	vs[0].Warned = []harness.Warned{{Kind: "canopy_speed", Text: "a recovery device opens at 52.0 m/s, limit 40.0 m/s", Outside: true, Accepted: true}, {Kind: "unstable", Accepted: true, Missing: true}}
	vs[2].NotFlown = "interrupted"
	return vs
}

// compared are options with a comparison in which everything is found.
func compared() Options {
	opt := options()
	is := all()
	was := suiteOfThree()
	was[0].Digest, was[1].Name, was[2].Findings = "other", "left", nil
	for i := range was[0].Findings {
		was[0].Findings[i].Share += 0.1
		was[0].Findings[i].Margin *= 1.1
	}
	opt.Against = compare.Of(was, is)
	opt.Foreign = []string{"notes.yaml"}
	opt.Against.With = "earlier"
	return opt
}

func TestOutputsFollowTheirSchemas(t *testing.T) {
	outputs := printed(t)
	require.Len(t, outputs, len(Outputs()))
	for _, o := range Outputs() {
		s := compile(t, o[0])
		require.NotEmpty(t, outputs[o[0]], o[0])
		for _, text := range outputs[o[0]] {
			v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
			require.NoError(t, err)
			assert.NoError(t, s.Validate(v), o[0])
		}
	}
	_, ok := Schema("fly")
	assert.False(t, ok, "prints none")
}

// A schema that takes anything proves nothing: each key is given another type, and joined by one more.
func TestSchemasRefuseOtherOutputs(t *testing.T) {
	for command, outputs := range printed(t) {
		s := compile(t, command)
		var top any
		require.NoError(t, json.Unmarshal([]byte(outputs[0]), &top))
		tried := 0
		var walk func(v any)
		walk = func(v any) {
			switch v := v.(type) {
			case []any:
				for _, e := range v[:min(len(v), 2)] {
					walk(e)
				}
			case map[string]any:
				for _, key := range slices.Sorted(maps.Keys(v)) {
					was := v[key]
					walk(was)
					v[key] = map[string]any{"odd": []any{}}
					assert.Error(t, s.Validate(top), "%s: %s of another type", command, key)
					v[key] = was
					tried++
				}
				v["odd"] = nil
				assert.Error(t, s.Validate(top), "%s: one key more", command)
				delete(v, "odd")
			}
		}
		walk(top)
		assert.NoError(t, s.Validate(top))
		assert.Greater(t, tried, 20, command)
	}
}

// The examples of the reference are what was printed; every key has one, but for those that none of the outputs here has.
func TestReferenceTellsEveryKeyOfOutputs(t *testing.T) {
	for command, outputs := range printed(t) {
		file := filepath.Join("sample", command+".json")
		text := "[" + strings.Join(outputs, ",\n") + "]\n"
		if *update {
			require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
		}
		want, err := os.ReadFile(file)
		require.NoError(t, err)
		assert.Equal(t, string(want), text, "%s: go test ./harness/show/report -update rewrites it", file)
	}
	keys := map[string]reference.Entry{}
	for _, b := range Reference().Blocks {
		for _, e := range b.Entries {
			keys[b.Path+"."+e.Key] = e
			assert.NotEmpty(t, e.Doc, b.Path+"."+e.Key)
			assert.NotEmpty(t, e.Default, b.Path+"."+e.Key)
		}
	}
	var missing []string
	for _, o := range Outputs() {
		text, _ := Schema(o[0])
		var s map[string]any
		require.NoError(t, json.Unmarshal(text, &s))
		var walk func(path string, s map[string]any)
		walk = func(path string, s map[string]any) {
			if items, is := s["items"].(map[string]any); is {
				s = items
			}
			props, _ := s["properties"].(map[string]any)
			for key, of := range props {
				e, there := keys[path+"."+key]
				assert.True(t, there, "%s.%s has no entry", path, key)
				if e.Example == "" {
					missing = append(missing, path+"."+key)
				}
				walk(path+"."+key, of.(map[string]any))
			}
		}
		walk("outputs."+o[0], s)
	}
	slices.Sort(missing)
	assert.Empty(t, missing, "keys without an example")
}
