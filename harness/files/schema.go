package files

import (
	"encoding/json"
	"fmt"

	"drystage/sim/quantity"
)

// Schema gives the JSON Schema (draft 2020-12) of a kind of file, made of the same table that reads
// it. Of a motor, which is CSV, it describes the header.
func Schema(kind string) ([]byte, error) {
	blocks := map[string]*block{"vehicle": &vehicleBlock, "motor": &motorBlock, "board": &boardBlock, "scenario": &scenarioBlock}
	b, ok := blocks[kind]
	if !ok {
		hint := near(kind, Kinds())
		if hint != "" {
			hint = "; " + hint
		}
		return nil, fmt.Errorf("files: found the kind %q, wanted %s%s", kind, oneOf(Kinds()), hint)
	}
	s := b.schema()
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = "drystage " + kind
	if kind == "scenario" {
		s["required"] = []string{"drystage"} // the rest may come by `like`
	}
	return json.MarshalIndent(s, "", "  ")
}

type schema = map[string]any

func (b *block) schema() schema {
	properties := schema{}
	required := []string{}
	for _, f := range b.fields {
		p := f.schema()
		p["description"] = f.doc
		properties[f.key] = p
		if f.need {
			required = append(required, f.key)
		}
	}
	return schema{"type": "object", "description": b.doc, "properties": properties, "required": required, "additionalProperties": false}
}

func (f *field) schema() schema {
	switch f.form {
	case asWord:
		return schema{"enum": f.words}
	case asQuantity:
		return quantitySchema(f.dim)
	case asWhole:
		return schema{"type": "integer", "minimum": f.least, "maximum": f.most}
	case asFlag:
		return schema{"type": "boolean"}
	case asBlock:
		return f.block.schema()
	case asBlocks:
		return schema{"type": "array", "items": f.block.schema()}
	case asVariants:
		var all []schema
		for _, b := range f.variants {
			all = append(all, b.schema())
		}
		return schema{"type": "array", "items": schema{"oneOf": all}}
	case asTriple:
		return schema{"type": "array", "items": quantitySchema(f.dim), "minItems": 3, "maxItems": 3}
	case asPair:
		return schema{"type": "array", "items": schema{"type": "string"}, "minItems": 2, "maxItems": 2}
	case asRoles:
		return schema{"type": "object", "additionalProperties": f.block.schema()}
	case asSettings:
		return schema{"type": "object", "additionalProperties": schema{"type": []string{"string", "number", "boolean"}}}
	case asLater, asAnchor:
		return schema{"type": []string{"string", "number"}}
	}
	return schema{"type": "string"}
}

// quantitySchema wants a number and one of the dimension's units.
func quantitySchema(d quantity.Dimension) schema {
	if d == quantity.Number {
		return schema{"type": []string{"number", "string"}}
	}
	return schema{"type": "string", "pattern": unitPattern(d)}
}

func unitPattern(d quantity.Dimension) string {
	units := ""
	for i, u := range quantity.Units(d) {
		if i > 0 {
			units += "|"
		}
		units += u
	}
	return `^\s*[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?\s*(` + units + `)\s*$`
}
