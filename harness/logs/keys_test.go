package logs

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestKeysAreThoseOfTheReader: schema and explanation tell of each key that is read, and of no other.
func TestKeysAreThoseOfTheReader(t *testing.T) {
	tags := func(x any) (out []string) {
		for i := range reflect.TypeOf(x).NumField() {
			if tag := reflect.TypeOf(x).Field(i).Tag.Get("yaml"); tag != "" {
				name, _, _ := strings.Cut(tag, ",")
				out = append(out, name)
			}
		}
		return out
	}
	names := func(keys []key) (out []string) {
		for _, k := range keys {
			out = append(out, k.name)
		}
		return out
	}
	top := mappingKeys()
	assert.ElementsMatch(t, tags(Mapping{}), names(top))
	for _, k := range top {
		switch k.name {
		case "time":
			assert.ElementsMatch(t, tags(Clock{}), names(k.of))
		case "columns":
			assert.ElementsMatch(t, tags(Column{}), names(k.of))
		}
	}
	var told []string
	p := Reference()
	for _, block := range p.Blocks {
		for _, e := range block.Entries {
			told = append(told, block.Path+"."+e.Key)
			assert.NotEmpty(t, e.Wants, e.Key)
			assert.NotEmpty(t, e.Example, e.Key)
			assert.NotEmpty(t, e.Default, e.Key)
		}
	}
	for _, k := range top {
		assert.Contains(t, told, "mapping."+k.name)
		for _, in := range k.of {
			assert.Contains(t, told, "mapping."+k.name+"."+in.name)
		}
	}
	for _, w := range Words() {
		assert.Contains(t, fmt.Sprint(p), w)
	}
}

// TestSchema: what the schema says is JSON, and names what must be there.
func TestSchema(t *testing.T) {
	b := Schema()
	var s struct {
		Title      string
		Required   []string
		Properties map[string]struct {
			Enum  []string
			Items struct {
				Required   []string
				Properties map[string]any
			}
		}
	}
	require.NoError(t, json.Unmarshal(b, &s))
	assert.Equal(t, "drystage mapping", s.Title)
	assert.Equal(t, []string{"drystage", "delimiter", "decimal", "header", "time", "columns"}, s.Required)
	assert.Equal(t, []string{"column", "is"}, s.Properties["columns"].Items.Required)
	assert.Equal(t, []string{"comma", "semicolon", "tab", "blank"}, s.Properties["delimiter"].Enum)
	assert.Contains(t, s.Properties["columns"].Items.Properties, "offset")
}

// TestSchemaAgreesWithTheReader: what is proposed is good by both, and what one refuses the other does.
func TestSchemaAgreesWithTheReader(t *testing.T) {
	b := Schema()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("mapping.json", doc))
	s, err := c.Compile("mapping.json")
	require.NoError(t, err)
	valid := func(text []byte) error {
		j, err := yaml.YAMLToJSON(text)
		require.NoError(t, err)
		x, err := jsonschema.UnmarshalJSON(bytes.NewReader(j))
		require.NoError(t, err)
		return s.Validate(x)
	}
	for seed := range uint64(12) {
		text, _, _ := shaped(seed)
		p, err := Propose(bytes.NewReader(text), "x.csv")
		require.NoError(t, err)
		if _, err := ReadMapping(p.YAML(), "m.yaml"); err == nil {
			assert.NoError(t, valid(p.YAML()), "seed %d\n%s", seed, p.YAML())
		}
	}
	good := "drystage: mapping\ndelimiter: tab\ndecimal: comma\nheader: 2\nunits: 3\ntime: {column: t, unit: us, start: 1 s}\ncolumns:\n  - {column: p, is: barometer pressure, unit: inHg, scale: 0.5, offset: -2, rate: 10 Hz}\n  - {column: o, is: output 16}\n  - {column: v, is: board speed, unit: ft/s, sign: \"-\"}\n  - {column: s, is: board state}\n"
	for _, w := range []struct{ old, new, reason string }{
		{"", "", "good"},
		{"mapping", "vehicle", "another kind"},
		{"delimiter: tab\n", "", "no delimiter"},
		{"tab", "pipe", "a delimiter that is not there"},
		{"decimal: comma", "decimal: dot", ""},
		{"header: 2", "header: -1", "a line before the first"},
		{"header: 2\n", "header: 2\nfooter: 3\n", "an unknown key"},
		{"unit: us", "unit: fortnights", ""},
		{"output 16", "output 17", "beyond the last output"},
		{"is: barometer pressure", "is: barometer presure", "a wrong word"},
		{"scale: 0.5", "scale: half", "no number"},
		{`sign: "-"`, `sign: "*"`, ""},
		{"column: o, ", "", "a column without a name"},
	} {
		text := []byte(strings.Replace(good, w.old, w.new, 1))
		_, err := ReadMapping(text, "m.yaml")
		assert.Equal(t, w.reason == "good", err == nil, "%s -> %s: %s: %v", w.old, w.new, w.reason, err)
		assert.Equal(t, err == nil, valid(text) == nil, "%s -> %s: %s", w.old, w.new, w.reason)
	}
}
