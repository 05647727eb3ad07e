package report

import (
	"bytes"
	"encoding/json"
	"io"
	"slices"

	"drystage/harness"
)

// object is a JSON object as it is printed (RFC 8259): its members in order. The list of members is the one source of
// what is printed and of its JSON Schema.
type object []member

// member is one key of an object, its value and what it means, units included. Its value is a string, number, flag,
// map, list, word, array or object, or an optional one of these.
type member struct {
	key   string
	value any
	doc   string
}

// optional is a value that is left out when it is absent.
type optional struct {
	value  any
	absent bool
}

// when leaves a value out unless a condition holds.
func when(there bool, value any) optional { return optional{value, !there} }

// omitZero leaves out what is 0, empty or not known.
func omitZero[T comparable](x T) optional {
	var zero T
	return optional{x, x == zero}
}

// objectIf describes what a pointer points to, and is left out when there is nothing.
func objectIf[T any](p *T, of func(*T) object) optional {
	if p == nil {
		return optional{of(new(T)), true}
	}
	return optional{of(p), false}
}

// word is one of several words.
type word struct {
	is  string
	all []string
}

// answer is an answer as a word.
func answer(a harness.Answer) word {
	return word{a.String(), []string{harness.Pass.String(), harness.Fail.String(), harness.Unsure.String()}}
}

// array is a list of objects of one kind, which it knows even when it is empty.
type array struct {
	items []object
	kind  object
}

// list describes each item of a list.
func list[T any](items []T, of func(*T) object) array {
	a := array{items: make([]object, len(items)), kind: of(new(T))}
	for i := range items {
		a.items[i] = of(&items[i])
	}
	return a
}

// texts makes a list of no words an empty list, not null.
func texts(list []string) []string { return append([]string{}, list...) }

// MarshalJSON writes the members in order.
func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	b.WriteByte('{')
	first := true
	for _, m := range o {
		if x, is := m.value.(optional); is {
			if m.value = x.value; x.absent {
				continue
			}
		}
		if !first {
			b.WriteByte(',')
		}
		first = false
		if err := e.Encode(m.key); err != nil {
			return nil, err
		}
		b.WriteByte(':')
		if err := e.Encode(m.value); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// MarshalJSON writes the items.
func (a array) MarshalJSON() ([]byte, error) { return marshal(a.items) }

// MarshalJSON writes the word.
func (w word) MarshalJSON() ([]byte, error) { return marshal(w.is) }

func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return b.Bytes(), err
}

// write prints an object for other programs.
func (o object) write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(o)
}

// schema is the JSON Schema of a value.
func schema(v any) map[string]any {
	switch v := v.(type) {
	case optional:
		return schema(v.value)
	case object:
		return v.schema()
	case array:
		return map[string]any{"type": "array", "items": v.kind.schema()}
	case word:
		return map[string]any{"enum": v.all}
	case string:
		return map[string]any{"type": "string"}
	case bool:
		return map[string]any{"type": "boolean"}
	case int:
		return map[string]any{"type": "integer"}
	case float64, *float64:
		return map[string]any{"type": "number"}
	case []string:
		return map[string]any{"type": "array", "items": schema("")}
	case []int:
		return map[string]any{"type": "array", "items": schema(0)}
	case []*float64:
		return map[string]any{"type": "array", "items": map[string]any{"type": []string{"number", "null"}}}
	case [2]float64:
		return map[string]any{"type": "array", "items": schema(0.0), "minItems": 2, "maxItems": 2}
	case map[string]int:
		return map[string]any{"type": "object", "additionalProperties": schema(0)}
	case map[string]float64:
		return map[string]any{"type": "object", "additionalProperties": schema(0.0)}
	}
	panic("report: no schema of such a value") // a test makes the schema of every output
}

func (o object) schema() map[string]any {
	props, required := map[string]any{}, []string{}
	for _, m := range o {
		p := schema(m.value)
		p["description"] = m.doc
		props[m.key] = p
		if _, is := m.value.(optional); !is {
			required = append(required, m.key)
		}
	}
	slices.Sort(required)
	return map[string]any{"type": "object", "properties": props, "required": required, "additionalProperties": false}
}
