package scenario

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"

	"drystage/sim/quantity"
)

// kinds holds the table of each kind of file. A motor's is of its header block.
var kinds = []struct {
	name string
	of   *table
}{
	{"vehicle", vehicleTable}, {"motor", motorTable}, {"board", boardTable}, {"scenario", scenarioTable}, {"rig", rigTable}, {"settings", settingsTable}, {"wiring", wiringTable},
	{"project", projectTable},
}

// Kinds lists the kinds of file that Schema knows, and what each describes.
func Kinds() (list [][2]string) {
	for _, k := range kinds {
		list = append(list, [2]string{k.name, k.of.doc})
	}
	return list
}

func yamlKinds() []string {
	return []string{"vehicle", "board", "scenario", "rig", "settings", "wiring", "project"}
}

// Schema gives the JSON Schema (draft 2020-12) of a kind of file: vehicle, motor (its header block),
// board, scenario, rig, settings, wiring or project. What a schema can't say, such as whether an event can occur, Lint says.
func Schema(kind string) ([]byte, error) {
	var names []string
	for _, k := range kinds {
		if k.name != kind {
			names = append(names, k.name)
			continue
		}
		s := k.of.schema()
		s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
		s["title"] = "drystage " + kind
		b, err := json.MarshalIndent(s, "", "  ")
		return append(b, '\n'), err
	}
	return nil, fmt.Errorf("scenario: no schema of %q: the kinds are %s", kind, choices(names))
}

func (t *table) schema() map[string]any {
	props, required := map[string]any{}, []string{}
	for _, r := range t.rows {
		p := r.is.schema()
		p["description"] = r.doc
		if r.def != "" && r.def != "{}" {
			p["description"] = r.doc + "; default " + r.def
		}
		if r.typical != "" {
			p["description"] = fmt.Sprint(p["description"], "; typical: ", r.typical)
		}
		props[r.key] = p
		if r.need && !(t.inherits && r.key != "drystage") {
			required = append(required, r.key)
		}
	}
	s := map[string]any{"type": "object", "properties": props, "additionalProperties": false, "description": t.doc}
	if len(required) > 0 {
		s["required"] = required
	}
	return s
}

func (v *variants) schema() map[string]any {
	var list []any
	for _, t := range v.tables {
		list = append(list, t.schema())
	}
	return map[string]any{"oneOf": list}
}

// decimal is a number as quantity reads it.
const decimal = `[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?`

func pattern(p string) map[string]any { return map[string]any{"type": "string", "pattern": p} }

func quantityPattern(symbols []string) map[string]any {
	var alternatives []string
	for _, u := range symbols {
		if u != "" {
			alternatives = append(alternatives, strings.ReplaceAll(regexp.QuoteMeta(u), " ", `\s+`))
		}
	}
	return pattern(`^\s*` + decimal + `\s*(` + strings.Join(alternatives, "|") + `)\s*$`)
}

// plainNumber is a number, or one with a unit such as %.
func plainNumber() map[string]any {
	return map[string]any{"anyOf": []any{map[string]any{"type": "number"}, quantityPattern(quantity.Units(quantity.Number))}}
}

func anyQuantity(more ...any) map[string]any {
	var symbols []string
	for _, d := range quantity.Dimensions() {
		symbols = append(symbols, quantity.Units(d)...)
	}
	return map[string]any{"anyOf": append([]any{map[string]any{"type": "number"}, quantityPattern(symbols)}, more...)}
}

func (s quantityShape) schema() map[string]any { return quantityPattern(quantity.Units(s.dim)) }

func (s number) schema() map[string]any {
	if !s.whole {
		return plainNumber()
	}
	return map[string]any{"type": "integer", "minimum": s.min, "maximum": s.max}
}

func (seed) schema() map[string]any { return map[string]any{"type": "integer", "minimum": 0} }

func (s vector) schema() map[string]any {
	items := quantityPattern(quantity.Units(s.dim))
	if s.dim == quantity.Number {
		items = plainNumber()
	}
	return map[string]any{"type": "array", "items": items, "minItems": 3, "maxItems": 3}
}

func (amount) schema() map[string]any       { return anyQuantity() }
func (settingShape) schema() map[string]any { return anyQuantity(map[string]any{"type": "boolean"}) }
func (s words) schema() map[string]any      { return map[string]any{"enum": []string(s)} }
func (flag) schema() map[string]any         { return map[string]any{"type": "boolean"} }
func (textLine) schema() map[string]any     { return map[string]any{"type": []string{"string", "number"}} }
func (filePath) schema() map[string]any     { return map[string]any{"type": "string", "minLength": 1} }

func (s name) schema() map[string]any {
	word := fmt.Sprintf("[A-Za-z][A-Za-z0-9_]{0,%d}", s.most-1)
	return pattern("^" + word + strings.Repeat(`\.`+word, len(s.parts)-1) + "$")
}

func (s listShape) schema() map[string]any {
	return map[string]any{"type": "array", "items": s.of.schema(), "minItems": s.least, "maxItems": s.most}
}

func (s namedBlocks) schema() map[string]any {
	return map[string]any{
		"type": "object", "additionalProperties": s.of.schema(), "minProperties": s.least, "maxProperties": s.most,
		"propertyNames": name{[]string{s.what}, s.letters}.schema(),
	}
}
