package audit_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"

	"drystage/harness"
)

// class is one kind of place in a record, however many of it there are: a number, a flag, a text, or how long a
// list is and in which order. Its way leads there through the types: a field's index, or down for an element.
type class struct {
	name string
	way  []int
	list bool // the list itself
}

const down = -1

// classes walks a type, so that no field is left out, now or when a noun grows.
func classes(t reflect.Type, name string, way []int) (all []class) {
	step := func(n int) []int { return append(append([]int(nil), way...), n) }
	switch t.Kind() {
	case reflect.Struct:
		for i := range t.NumField() {
			all = append(all, classes(t.Field(i).Type, strings.TrimPrefix(name+"."+t.Field(i).Name, "."), step(i))...)
		}
		return all
	case reflect.Slice:
		all = append(all, class{name + ", its length and order", way, true})
		return append(all, classes(t.Elem(), name+"[]", step(down))...)
	case reflect.Array:
		return classes(t.Elem(), name+"[]", step(down))
	}
	return []class{{name, way, false}}
}

// grouped gives the kinds of places by the part of a record that they are in.
func grouped(places []class) (groups [][]int) {
	index := map[string]int{}
	for k, c := range places {
		words := strings.SplitN(strings.ReplaceAll(c.name, ",", "."), ".", 3)
		part := strings.Join(words[:min(len(words), 2)], ".")
		if _, ok := index[part]; !ok {
			index[part] = len(groups)
			groups = append(groups, nil)
		}
		groups[index[part]] = append(groups[index[part]], k)
	}
	return groups
}

// find gives a place of the class in a record, and the same place in a twin as far as it has one. A list that is
// empty on the way gets an element, since one more is a change as well.
func (c *class) find(r *rand.Rand, v, twin reflect.Value) (place, other reflect.Value, undo func()) {
	undo = func() {}
	for _, n := range c.way {
		if n != down {
			v = v.Field(n)
			if twin.IsValid() {
				twin = twin.Field(n)
			}
			continue
		}
		if v.Len() == 0 {
			list, before := v, reflect.ValueOf(v.Interface())
			v.Set(reflect.MakeSlice(v.Type(), 1, 1))
			was := undo
			undo = func() { list.Set(before); was() }
		}
		i := r.IntN(v.Len())
		if r.IntN(3) == 0 {
			i = v.Len() - 1 // what comes last often decides
		}
		v = v.Index(i)
		if twin.IsValid() {
			if i < twin.Len() {
				twin = twin.Index(i)
			} else {
				twin = reflect.Value{}
			}
		}
	}
	return v, twin, undo
}

// mutate changes one place, and gives what takes it back. The twin is a record that passes: what stands there is
// the likeliest to make another one pass.
func (c *class) mutate(r *rand.Rand, rec, twin *harness.Record) (undo func()) {
	var none reflect.Value
	if twin != nil {
		none = reflect.ValueOf(twin).Elem()
	}
	place, other, grown := c.find(r, reflect.ValueOf(rec).Elem(), none)
	before := reflect.New(place.Type()).Elem()
	before.Set(place)
	if other.IsValid() && r.IntN(3) == 0 {
		place.Set(other)
	} else {
		change(r, place)
	}
	return func() { place.Set(before); grown() }
}

func change(r *rand.Rand, v reflect.Value) {
	switch v.Kind() {
	case reflect.Slice:
		v.Set(reshaped(r, v))
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.String:
		v.SetString([]string{"", v.String() + "x", strings.TrimSuffix(v.String(), "\n"), "apogee", v.String() + "\n"}[r.IntN(5)])
	case reflect.Float32, reflect.Float64:
		x := v.Float()
		v.SetFloat([]float64{0, -x, math.Nextafter(x, 1e9), x + 1, x * (1 + 0.1*r.NormFloat64()), math.NaN(), math.Inf(1), 1e9 * r.NormFloat64()}[r.IntN(8)])
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		x := v.Int()
		v.SetInt([]int64{0, -x, x + 1, x - 1, x + 5_000_000, x - 5_000_000, x + r.Int64N(1e9), math.MaxInt64}[r.IntN(8)])
	case reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		x := v.Uint()
		v.SetUint([]uint64{0, x + 1, x - 1, x ^ 1<<r.IntN(8), r.Uint64()}[r.IntN(5)])
	default:
		panic(fmt.Sprint("teach change a ", v.Kind()))
	}
}

// reshaped gives the list with elements taken away, doubled or in another order.
func reshaped(r *rand.Rand, v reflect.Value) reflect.Value {
	n := v.Len()
	out := reflect.MakeSlice(v.Type(), 0, n+1)
	if n == 0 {
		return reflect.Append(out, reflect.Zero(v.Type().Elem()))
	}
	i := r.IntN(n)
	switch r.IntN(6) {
	case 0: // nothing is left
	case 1:
		out = reflect.AppendSlice(out, v.Slice(0, i))
	case 2:
		out = reflect.AppendSlice(out, v.Slice(0, n-1))
	case 3:
		out = reflect.AppendSlice(reflect.AppendSlice(out, v.Slice(0, i)), v.Slice(i+1, n))
	case 4:
		out = reflect.Append(reflect.AppendSlice(out, v), v.Index(i))
	default:
		out = reflect.AppendSlice(out, v)
		k := r.IntN(n)
		x := reflect.New(v.Type().Elem()).Elem()
		x.Set(out.Index(i))
		out.Index(i).Set(out.Index(k))
		out.Index(k).Set(x)
	}
	return out
}
