package schema

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"

	"drystage/harness/reference"
)

// Blocks adds the keys of a JSON Schema to a page of the reference, and those of the objects inside. shown are such
// objects as they were printed, for examples.
func Blocks(p *reference.Page, path, doc string, text []byte, shown []any) error {
	var s map[string]any
	if err := json.Unmarshal(text, &s); err != nil {
		return err
	}
	blocks(p, path, doc, s, shown)
	return nil
}

func blocks(p *reference.Page, path, doc string, s map[string]any, shown []any) {
	at := len(p.Blocks)
	p.Blocks = append(p.Blocks, reference.Block{Path: path, Doc: doc})
	required, _ := s["required"].([]any)
	props, _ := s["properties"].(map[string]any)
	var entries []reference.Entry
	for _, key := range slices.Sorted(maps.Keys(props)) {
		of, _ := props[key].(map[string]any)
		meaning, _ := of["description"].(string)
		values := printedAt(shown, key)
		e := reference.Entry{Key: key, Wants: typeOf(of), Unit: unitOf(key, meaning), Default: reference.None, Doc: meaning, Example: example(values)}
		if slices.Contains(required, any(key)) {
			e.Default = reference.Always
		}
		if inner, is := of["items"].(map[string]any); is {
			of, values = inner, items(values)
		}
		if of["properties"] != nil {
			e.Block = path + "." + key
			blocks(p, e.Block, meaning, of, values)
		}
		entries = append(entries, e)
	}
	p.Blocks[at].Entries = entries
}

// Fill gives keys without an example that of a key with the same name.
func Fill(p *reference.Page) {
	known := map[string]string{}
	for i := range p.Blocks {
		for _, e := range p.Blocks[i].Entries {
			if known[e.Key] == "" {
				known[e.Key] = e.Example
			}
		}
	}
	for i := range p.Blocks {
		for k := range p.Blocks[i].Entries {
			if e := &p.Blocks[i].Entries[k]; e.Example == "" {
				e.Example = known[e.Key]
			}
		}
	}
}

// printedAt gives what objects hold under a key.
func printedAt(shown []any, key string) (values []any) {
	for _, x := range shown {
		if o, is := x.(map[string]any); is && o[key] != nil {
			values = append(values, o[key])
		}
	}
	return values
}

// items joins lists.
func items(lists []any) (all []any) {
	for _, v := range lists {
		l, _ := v.([]any)
		all = append(all, l...)
	}
	return all
}

// typeOf names the type of a schema.
func typeOf(s map[string]any) string {
	if list, is := s["enum"].([]any); is {
		var words []string
		for _, w := range list {
			text, _ := w.(string)
			words = append(words, text)
		}
		return strings.Join(words, ", ")
	}
	switch s["type"] {
	case "array":
		of, _ := s["items"].(map[string]any)
		return "a list, each " + typeOf(of)
	case "object":
		return "an object"
	case "string":
		return "text"
	case "boolean":
		return "true or false"
	case "integer":
		return "a whole number"
	}
	return "a number"
}

// unitOf gives the unit of a number by its key or the end of what is said of it; empty: none, or another key tells it.
func unitOf(key, doc string) string {
	if strings.HasSuffix(key, "_s") || strings.HasSuffix(doc, ", s") {
		return "s"
	}
	return ""
}

// example writes the first value that says something, in one line; of the long ones their beginning.
func example(values []any) string {
	for _, v := range values {
		b, err := json.Marshal(v)
		text := string(b)
		if err != nil || text == `""` || text == "[]" || text == "{}" {
			continue
		}
		if r := []rune(text); len(r) > 60 {
			return string(r[:57]) + "..."
		}
		return text
	}
	return ""
}
