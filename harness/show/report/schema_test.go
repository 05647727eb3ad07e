package report

import (
	"bytes"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
	require.NoError(t, HuntJSON(&found, theHunt(), "drystage: scenario\n", options()))
	require.NoError(t, DefectsJSON(&matrix, fourBoards(), options()))
	var sweep bytes.Buffer
	require.NoError(t, SweepJSON(&sweep, sweeps(), options()))
	return map[string][]string{
		"bench":   {text(t, JSON, suiteOfThree(), options()), text(t, JSON, realTime(), options()), text(t, JSON, suiteOfThree()[:1], Options{})},
		"sweep":   {sweep.String()},
		"hunt":    {found.String()},
		"defects": {matrix.String()},
		"ready":   {sheetText(t, "json", wren(), options()), sheetText(t, "json", hostile(), options()), sheetText(t, "json", clear(), options())},
	}
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
