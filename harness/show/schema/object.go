// Package schema prints JSON objects, and their JSON Schema, from one list of members.
package schema

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"slices"
)

// Object is a JSON object as it is printed (RFC 8259): its members in order. The list of members is the one source of
// what is printed and of its JSON Schema. A member is a key, its value and what it means, units included. Its value is
// a string, number, flag, map, list, Word, Array or Object, or an Optional one of these.
type Object []struct {
	Key   string
	Value any
	Doc   string
}

// Optional is a value that is left out when it is absent.
type Optional struct {
	value  any
	absent bool
}

// When leaves a value out unless a condition holds.
func When(there bool, value any) Optional { return Optional{value, !there} }

// OmitZero leaves out what is 0, empty or not known.
func OmitZero[T comparable](x T) Optional {
	var zero T
	return Optional{x, x == zero}
}

// ObjectIf describes what a pointer points to, and is left out when there is nothing.
func ObjectIf[T any](p *T, of func(*T) Object) Optional {
	if p == nil {
		return Optional{of(new(T)), true}
	}
	return Optional{of(p), false}
}

// Word is one of several words.
type Word struct {
	is  string
	all []string
}

// OneOf is a word of those that it may be.
func OneOf(is string, all ...string) Word { return Word{is, all} }

// Array is a list of objects of one kind, which it knows even when it is empty.
type Array struct {
	items []Object
	kind  Object
}

// List describes each item of a list.
func List[T any](items []T, of func(*T) Object) Array {
	a := Array{items: make([]Object, len(items)), kind: of(new(T))}
	for i := range items {
		a.items[i] = of(&items[i])
	}
	return a
}

// Texts makes a list of no words an empty list, not null.
func Texts(list []string) []string { return append([]string{}, list...) }

// Number rounds to six decimals, or as many as show three digits; what JSON has no word for (infinity, NaN) is nil.
func Number(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	p := 1e6
	for a := math.Abs(x); a > 0 && a < 0.1 && p < 1e9; a *= 10 {
		p *= 10
	}
	if y := math.Round(x*p) / p; !math.IsInf(y, 0) {
		x = y
	}
	return &x
}

// MarshalJSON writes the members in order.
func (o Object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	b.WriteByte('{')
	first := true
	for _, m := range o {
		if x, is := m.Value.(Optional); is {
			if m.Value = x.value; x.absent {
				continue
			}
		}
		if !first {
			b.WriteByte(',')
		}
		first = false
		if err := e.Encode(m.Key); err != nil {
			return nil, err
		}
		b.WriteByte(':')
		if err := e.Encode(m.Value); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// MarshalJSON writes the items.
func (a Array) MarshalJSON() ([]byte, error) { return marshal(a.items) }

// MarshalJSON writes the word.
func (w Word) MarshalJSON() ([]byte, error) { return marshal(w.is) }

func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return b.Bytes(), err
}

// Write prints an object for other programs.
func (o Object) Write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(o)
}

// schema is the JSON Schema of a value.
func schema(v any) map[string]any {
	switch v := v.(type) {
	case Optional:
		return schema(v.value)
	case Object:
		return v.schema()
	case Array:
		return map[string]any{"type": "array", "items": v.kind.schema()}
	case Word:
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
	case []float64:
		return map[string]any{"type": "array", "items": schema(0.0)}
	case []*float64:
		return map[string]any{"type": "array", "items": map[string]any{"type": []string{"number", "null"}}}
	case [2]float64:
		return map[string]any{"type": "array", "items": schema(0.0), "minItems": 2, "maxItems": 2}
	case map[string]int:
		return map[string]any{"type": "object", "additionalProperties": schema(0)}
	case map[string]float64:
		return map[string]any{"type": "object", "additionalProperties": schema(0.0)}
	}
	panic("schema: no schema of such a value") // a test makes the schema of every output
}

func (o Object) schema() map[string]any {
	props, required := map[string]any{}, []string{}
	for _, m := range o {
		p := schema(m.Value)
		p["description"] = m.Doc
		props[m.Key] = p
		if _, is := m.Value.(Optional); !is {
			required = append(required, m.Key)
		}
	}
	slices.Sort(required)
	return map[string]any{"type": "object", "properties": props, "required": required, "additionalProperties": false}
}

// Text is the JSON Schema (draft 2020-12) of an object under a title.
func Text(title string, o Object) ([]byte, error) {
	s := o.schema()
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = title
	text, err := json.MarshalIndent(s, "", "  ")
	return append(text, '\n'), err
}
