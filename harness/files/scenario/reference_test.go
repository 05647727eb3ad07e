package scenario

import (
	"encoding/json"
	"io/fs"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/reference"
	"drystage/scenarios"
	"drystage/sim"
	"drystage/sim/quantity"
)

var madePages = Reference(scenarios.Files, ".")

func shippedPages() []reference.Page { return madePages }

func explained(t *testing.T, word string) string {
	found, others := reference.Find(shippedPages(), word)
	require.NotEmpty(t, found, word)
	return reference.Text(found, others, false)
}

func TestReferenceTells(t *testing.T) {
	for _, c := range []struct {
		word   string
		want   []string
		reason string
	}{
		{"brown_out.by", []string{"by: a voltage from 0.01 V to 65 V (V, mV), required", "typical: 1 to 4 V", "example, "}, "a key of a fault of the supply"},
		{"faults.brown_out", []string{"faults.brown_out\n", "by: a voltage from 0.01 V to 65 V (V, mV), required"}, "the fault itself"},
		{"drift", []string{"There are several", "drystage explain faults.drift", "drystage explain board.sensors.gyro.drift"}, "a word with several meanings"},
		{"faults.drift", []string{"barometer: up to 200000 Pa/s", "gnss: up to 100000 m/s"}, "a rate for each part"},
		{"vent_blocked", []string{"default 0 s", "the board's part: barometer"}, "a default"},
		{"sensors.accelerometer", []string{"noise_density: a noise density of acceleration from 0 m/s2/rtHz", "70 to 300 ug0/rtHz"}, "a part"},
		{"barometer.vents", []string{"diameter: a length from 0.0001 m to 0.05 m (m, mm, cm, km, ft, in), required"}, "a block inside it"},
		{"site", []string{"elevation: a length from -450 m to 6000 m", "pressure: a pressure from 40000 Pa to 110000 Pa"}, "the launch site"},
		{"wind", []string{"roughness: a length from 0.00001 m to 2 m", "0.03 m grass", "aloft: a list of 1 to 100, each a block of height, speed, from"}, "the day's wind"},
		{"wind.turbulence", []string{"w20: a speed from 0.1 m/s to 60 m/s", "15 kn light, 30 kn moderate"}, "its random part"},
		{"weather", []string{"drystage explain scenario.weather.wind.gusts"}, "what lies inside"},
		{"events", []string{"output BOARD.OUTPUT", "command arm"}, "what to tie a fault to"},
		{"nmea", []string{"baud: a whole number from 1200 to 4000000, default 115200"}, "a whole number is written out"},
		{"vary", []string{"what can vary, by its name:", "STAGE.drag\n    a number from 0.5 to 1.5; factor on its drag", "FAULT.by\n    its size, in its own unit and range\n"}, "and all that can vary"},
		{"canopy_speed", []string{"accepts: [canopy_speed]", "(limit: "}, "what a flight is warned of"},
		{"tilt", []string{"quantities.tilt", "drystage explain vehicle.rail.tilt"}, "a quantity, and a key of rails"},
		{"never", []string{"expectations.never", "while: [STAGE] QUANTITY above|below VALUE", "example"}, "an expectation"},
	} {
		got := explained(t, c.word)
		for _, w := range c.want {
			assert.Contains(t, got, w, c.reason)
		}
	}
	assert.NotContains(t, explained(t, "faults.clipped"), "gnss: up to", "only the parts that it can spoil")
	assert.Equal(t, `did you mean "faults.spike"?`, reference.Nearest(shippedPages(), "faults.spkie"))
	assert.Equal(t, `did you mean "fins.root"?`, reference.Nearest(shippedPages(), "fins.roott"))
	assert.Empty(t, reference.Nearest(shippedPages(), strings.Repeat("x", 1000)))
	found, _ := reference.Find(shippedPages(), "roott")
	assert.Empty(t, found)
}

// Every key of every schema has an entry with what it may be, its unit, its default and an example.
func TestEveryKeyOfEverySchemaHasAnEntry(t *testing.T) {
	blocks := map[string]*reference.Block{}
	for _, p := range shippedPages() {
		for i := range p.Blocks {
			require.Nil(t, blocks[p.Blocks[i].Path], p.Blocks[i].Path)
			blocks[p.Blocks[i].Path] = &p.Blocks[i]
		}
	}
	seen := 0
	var missing []string
	var walk func(block string, s map[string]any)
	walk = func(block string, s map[string]any) {
		for s["items"] != nil || s["properties"] == nil && s["additionalProperties"] != nil {
			inner, is := s["items"].(map[string]any)
			if !is {
				inner, is = s["additionalProperties"].(map[string]any)
			}
			if !is {
				return
			}
			s = inner
		}
		list, _ := s["oneOf"].([]any)
		for _, kind := range list {
			of := kind.(map[string]any)
			first := of["required"].([]any)[0].(string)
			page := "faults."
			if blocks["expectations."+first] != nil {
				page = "expectations."
			}
			walk(page+first, of)
		}
		props, _ := s["properties"].(map[string]any)
		if len(props) == 0 {
			return
		}
		b := blocks[block]
		require.NotNil(t, b, block)
		for key, of := range props {
			i := slices.IndexFunc(b.Entries, func(e reference.Entry) bool { return e.Key == key })
			require.GreaterOrEqual(t, i, 0, "%s.%s", block, key)
			e, schema := b.Entries[i], of.(map[string]any)
			at := block + "." + key
			seen++
			assert.NotEmpty(t, e.Doc, at)
			assert.NotEmpty(t, e.Default, at)
			assert.NotEqual(t, "a value", e.Wants, at)
			assert.NotContains(t, e.Wants, "a value,", at)
			if e.Block == "" && e.Example == "" {
				missing = append(missing, at)
			}
			if pattern, is := schema["pattern"].(string); is && strings.Contains(pattern, decimal) {
				assert.NotEmpty(t, e.Unit, at)
			}
			walk(e.Block, schema)
		}
	}
	for _, k := range kinds {
		text, err := Schema(k.name)
		require.NoError(t, err)
		var s map[string]any
		require.NoError(t, json.Unmarshal(text, &s))
		walk(k.name, s)
	}
	assert.Greater(t, seen, 400)
	slices.Sort(missing)
	assert.Empty(t, slices.Compact(missing), "keys without an example: use them in a shipped file or in the examples")
}

// Examples are read by the very shapes of their keys without a problem.
func TestExamplesAreRight(t *testing.T) {
	x := exampleSet{}
	x.gather(scenarios.Files, ".")
	x.gather(Examples, exampleFolder)
	for at, e := range x {
		text := "k: " + e.text + "\n"
		l := &loader{}
		n := l.parseYAML("x.yaml", text)
		require.Empty(t, l.problems, text)
		is := shape(at.of)
		if at.key != "" {
			is = at.of.rows[slices.Index(at.of.keys(), at.key)].is
		} else if at.of.inherits {
			continue
		}
		assert.NotNil(t, is.read(l, n.items[0]), "%s: %s", paths[at.of], text)
		assert.Empty(t, l.problems, "%s.%s: %s", paths[at.of], at.key, text)
		if file, _, _ := strings.Cut(e.from, ":"); file != "" {
			_, err := fs.Stat(scenarios.Files, file)
			assert.NoError(t, err)
		}
	}
	entries, err := fs.ReadDir(Examples, exampleFolder)
	require.NoError(t, err)
	for _, e := range entries {
		if name := exampleFolder + "/" + e.Name(); (IsYAML(name) || isMotor(name)) && e.Name() != "mapping.yaml" {
			assert.Empty(t, Lint(Examples, name), name)
		}
	}
}

// Every word of the core has its place.
func TestEveryWordHasAnEntry(t *testing.T) {
	has := map[string]bool{}
	for _, p := range shippedPages() {
		for _, b := range p.Blocks {
			has[b.Path] = true
		}
	}
	for _, w := range sim.FaultKinds() {
		assert.True(t, has["faults."+w], w)
	}
	for _, w := range sim.Quantities() {
		assert.True(t, has["quantities."+w], w)
	}
	for _, w := range sim.PartNames() {
		assert.True(t, has["board.sensors."+w], w)
	}
	for _, w := range expectShape.kinds() {
		assert.True(t, has["expectations."+w], w)
	}
	for _, d := range quantity.Dimensions() {
		assert.True(t, has["units."+dimensionWord(d)], d)
	}
	c := eventCatalogue{stages: []string{"STAGE", "STAGE"}, motors: []bool{true, true}, devices: [][]string{{"DEVICE"}, nil}}
	for _, e := range c.events() {
		assert.True(t, has["events."+e], e)
	}
	for _, w := range actionWords {
		assert.True(t, has["events."+w], w)
	}
}

// A problem names the entry that tells of its key, also one that is found after the key was read: TestWrongFilesGiveTheirFindings
// wants an entry for each.
func TestProblemsNameTheirEntry(t *testing.T) {
	for _, c := range []struct{ text, see string }{
		{"drystage: rig\nname: B\nboards: {a: {outputs: {x: {load: {kind: wood}}}}}\n", "rig.boards.outputs.load.kind"},
		{"drystage: project\njbos: 2\n", "project"},
		{"drystage: vehicle\nname: B\nstages: [{name: a, fins: [{root: 5}]}]\n", "vehicle.stages.fins.root"},
	} {
		l := &loader{fsys: keptFiles{harness.File{Name: "drystage.yaml", Text: c.text}}}
		l.lint(l.read("drystage.yaml", harness.Place{}))
		var sees []string
		for _, p := range l.problems {
			sees = append(sees, p.See)
		}
		assert.Contains(t, sees, c.see)
		found, _ := reference.Find(shippedPages(), c.see)
		require.Len(t, found, 1, c.see)
		assert.Equal(t, c.see, found[0].Path())
	}
}
