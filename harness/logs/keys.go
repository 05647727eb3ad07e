package logs

import (
	"encoding/json"
	"strings"

	"drystage/harness/reference"
	"drystage/sim/quantity"
)

// key is a key of a mapping file: what it may be, and what it means.
type key struct {
	name, wants, def, doc string
	unit, example         string // empty: it has no unit; the example is what it wants
	need                  bool
	of                    []key          // of a block
	schema                map[string]any // of a value
}

func words(list ...string) map[string]any { return map[string]any{"type": "string", "enum": list} }

var (
	textSchema   = map[string]any{"type": "string"}
	lineSchema   = map[string]any{"type": "integer", "minimum": 0, "maximum": 1000}
	numberSchema = map[string]any{"type": "number"}
)

// mappingKeys are the keys of a mapping file, for Schema and Explain; TestKeysAreThoseOfTheReader holds them
// against what is read.
func mappingKeys() []key {
	return []key{
		{name: "drystage", wants: "mapping", need: true, schema: map[string]any{"const": "mapping"}, doc: "the kind of file"},
		{name: "delimiter", example: "comma", wants: strings.Join(delimiterWords, ", "), need: true, schema: words(delimiterWords...), doc: "what parts two cells of a row; blank: any run of blanks"},
		{name: "decimal", example: "point", wants: "point or comma", need: true, schema: words("point", "comma"), doc: "the decimal sign of numbers"},
		{name: "header", example: "1", wants: "a line", need: true, schema: lineSchema, doc: "the line that names the columns, which may be a remark; 0: there is none, and columns are named by number"},
		{name: "units", example: "2", wants: "a line", def: "0, none", schema: lineSchema, doc: "a line below the header that tells the units, and is passed over"},
		{name: "time", example: "{column: time_ms, unit: ms}", need: true, doc: "how a row tells its time", of: []key{
			{name: "column", example: "time_ms", wants: "a column", schema: textSchema, doc: "the column of the clock; without it, rows come at `rate`"},
			{name: "unit", example: "ms", wants: strings.Join(clockUnits, ", "), schema: words(clockUnits...), doc: "of the clock; ticks: counts of `rate`; clock: hh:mm:ss with decimals, alone or behind a date. A counter of 16, 24 or 32 bits may begin again"},
			{name: "rate", example: "200 Hz", unit: "Hz, kHz", wants: "a frequency", schema: textSchema, doc: "of the ticks, or of rows without a clock, such as 200 Hz"},
			{name: "start", example: "12.5 s", unit: "s, ms", wants: "a time", def: "the first row's", schema: textSchema, doc: "what the clock says at time 0, such as 12.5 s; rows before it are left out"},
		}},
		{name: "columns", example: "[{column: pressure_pa, is: barometer pressure, unit: Pa}]", need: true, doc: "what each column means, as a list; columns that are not in it are left out", of: []key{
			{name: "column", example: "time_ms", wants: "a column", need: true, schema: textSchema, doc: "its name in the header, or its number as in \"#3\""},
			{name: "is", example: "barometer pressure", wants: "a channel", need: true, schema: map[string]any{"anyOf": []any{words(Words()...), map[string]any{"type": "string", "pattern": `^output ([1-9]|1[0-6])$`}}}, doc: "one of " + strings.Join(Words(), ", ") + ", or output 1 to output 16, which hold 0 and 1 or on and off"},
			{name: "unit", example: "ms", wants: "a unit", schema: textSchema, doc: "of what the channel measures, such as " + strings.Join(quantity.Units(quantity.Acceleration), ", ") + " or " + strings.Join(quantity.Units(quantity.Pressure), ", ")},
			{name: "sign", example: "\"-\"", wants: "\"-\" or \"+\"", def: "\"+\"", schema: words("-", "+"), doc: "\"-\" turns the axis round"},
			{name: "rate", example: "200 Hz", unit: "Hz, kHz", wants: "a frequency", def: "every row is a sample", schema: textSchema, doc: "of a sensor slower than the rows, which repeat its value"},
			{name: "scale", example: "0.01", unit: "none", wants: "a number but 0", def: "1", schema: numberSchema, doc: "a number x of the column stands for scale x + offset in the unit, as for counts of a converter"},
			{name: "offset", example: "-273.15", unit: "that of unit", wants: "a number", def: "0", schema: numberSchema, doc: "see scale"},
		}},
	}
}

// Schema gives the JSON Schema of mapping files.
func Schema() []byte {
	s := schemaOf(mappingKeys())
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = "drystage mapping"
	s["description"] = "what the columns of a flight log mean"
	b, err := json.MarshalIndent(s, "", "  ")
	if err != nil { // it holds words and numbers only
		panic(err)
	}
	return b
}

func schemaOf(keys []key) map[string]any {
	props, need := map[string]any{}, []string{}
	for _, k := range keys {
		p := map[string]any{}
		switch {
		case k.name == "columns":
			p["type"], p["items"], p["minItems"] = "array", schemaOf(k.of), 1
		case k.of != nil:
			p = schemaOf(k.of)
		default:
			for name, v := range k.schema {
				p[name] = v
			}
		}
		p["description"] = k.doc
		if k.def != "" {
			p["description"] = k.doc + "; default " + k.def
		}
		props[k.name] = p
		if k.need {
			need = append(need, k.name)
		}
	}
	return map[string]any{"type": "object", "properties": props, "required": need, "additionalProperties": false}
}

// Reference tells what the keys of a mapping file mean.
func Reference() reference.Page {
	p := reference.Page{Name: "mapping", Tree: true, Doc: "What the columns of a flight log mean; `drystage examine LOG --propose-mapping FILE` writes one to check."}
	add := func(path, doc string, keys []key) {
		b := reference.Block{Path: path, Doc: doc}
		for _, k := range keys {
			e := reference.Entry{Key: k.name, Wants: k.wants, Unit: k.unit, Default: k.def, Doc: k.doc, Example: k.example}
			switch {
			case k.of != nil:
				e.Wants, e.Block = "a block", path+"."+k.name
			case k.example == "":
				e.Example = k.wants
			}
			if k.need {
				e.Default = reference.Required
			} else if e.Default == "" {
				e.Default = reference.None
			}
			b.Entries = append(b.Entries, e)
		}
		p.Blocks = append(p.Blocks, b)
	}
	add("mapping", p.Doc, mappingKeys())
	for _, k := range mappingKeys() {
		if k.of != nil {
			add("mapping."+k.name, k.doc, k.of)
		}
	}
	return p
}
