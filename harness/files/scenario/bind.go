package scenario

import (
	"fmt"

	"drystage/sim"
	"drystage/sim/r3"
)

// blockOf makes the table of a block that describes one T. rows gives the keys of the block, each with the
// field of the T that its value goes to.
func blockOf[T any](name, doc string, rows func(*T) []row) *table {
	return &table{name: name, doc: doc, rows: rows(new(T)), bound: func(to any) []row { return rows(to.(*T)) }}
}

// fill puts the values of a block into what the block describes. A key that isn't there, without a default, or
// that is wrong leaves its field as it is.
func (o *object) fill(to any) {
	if o == nil || o.of == nil {
		return
	}
	for _, r := range o.of.bound(to) {
		if v := o.vals[r.key]; v.ok() {
			v.put(r.to)
		}
	}
}

// put stores a value in a field.
func (v value) put(to any) {
	switch to := to.(type) {
	case nil: // the code that reads the block asks for it
	case func(value):
		to(v)
	case *float64:
		*to = v.num()
	case *int:
		*to = int(v.num())
	case *uint64:
		*to = v.x.(uint64)
	case *sim.Time:
		*to = v.time()
	case *string:
		*to = v.text()
	case *bool:
		*to = v.flag()
	case *r3.Vec:
		*to = v.vec()
	case *[3]r3.Vec:
		*to = v.x.([3]r3.Vec)
	case *[]string:
		for _, e := range v.list() {
			*to = append(*to, e.text())
		}
	default:
		if v.object() == nil {
			panic(fmt.Sprintf("scenario: no way to put a %T into a %T", v.x, to))
		}
		v.object().fill(to)
	}
}

// listOf puts a list of blocks into a field, one element each; that of a wrong block is empty.
func listOf[T any](to *[]T) func(value) {
	return func(v value) {
		for _, o := range v.objects() {
			var x T
			o.fill(&x)
			*to = append(*to, x)
		}
	}
}

// enum puts a word into a field that counts them from 0.
func enum[E ~uint8 | ~int](to *E, all words) func(value) {
	return func(v value) { *to = E(all.index(v)) }
}
