package audit

import (
	"fmt"
	"math"
	"reflect"
	"strconv"

	"drystage/harness"
)

// difference is the first place at which two values differ.
type difference struct{ where, a, b string }

// firstDifference gives the first difference of two values of one type, given by pointers; nil if there is none. Numbers
// are equal if all their bits are; a nil slice equals an empty one. ignoreFileNames leaves out the names of files, which
// change when a folder is moved.
func firstDifference[T any](a, b *T, ignoreFileNames bool) *difference {
	w := comparison{ignoreFileNames: ignoreFileNames}
	return w.compare("", reflect.ValueOf(a).Elem(), reflect.ValueOf(b).Elem())
}

type comparison struct{ ignoreFileNames bool }

// fileFields are the fields that hold file names only, or are made from them.
var fileFields = map[reflect.Type][]string{
	reflect.TypeFor[harness.Place]():   {"File"},
	reflect.TypeFor[harness.Plan]():    {"File", "Log"},
	reflect.TypeFor[harness.File]():    {"Name"},
	reflect.TypeFor[harness.LogFile](): {"File", "Mapping"},
}

func (w *comparison) compare(path string, a, b reflect.Value) *difference {
	same := true
	switch a.Kind() {
	case reflect.Struct:
		return w.compareFields(path, a, b)
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() {
			return &difference{"the number of " + path, strconv.Itoa(a.Len()), strconv.Itoa(b.Len())}
		}
		for i := range a.Len() {
			if d := w.compare(fmt.Sprintf("%s[%d]", path, i), a.Index(i), b.Index(i)); d != nil {
				return d
			}
		}
	case reflect.Float64, reflect.Float32:
		same = math.Float64bits(a.Float()) == math.Float64bits(b.Float())
	default:
		same = a.Interface() == b.Interface()
	}
	if same {
		return nil
	}
	return &difference{path, short(a), short(b)}
}

func (w *comparison) compareFields(path string, a, b reflect.Value) *difference {
	skip := fileFields[a.Type()]
	for i := range a.NumField() {
		name := a.Type().Field(i).Name
		if w.ignoreFileNames && len(skip) > 0 && (name == skip[0] || name == skip[len(skip)-1]) {
			continue
		}
		under := name
		if path != "" {
			under = path + "." + name
		}
		if d := w.compare(under, a.Field(i), b.Field(i)); d != nil {
			return d
		}
	}
	return nil
}

// short prints a value, cut to a few words.
func short(v reflect.Value) string {
	s := fmt.Sprint(v.Interface())
	if v.Kind() == reflect.String {
		s = strconv.Quote(v.String())
	}
	const most = 60
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "..."
	}
	return s
}
