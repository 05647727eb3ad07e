package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim/quantity"
)

// table describes a block of keys, one row for each. It is the single source for reading a block,
// for what is said about a wrong one, and for the JSON Schema: a new key is one row and its use.
type table struct {
	name     string // with its article: "a stage"
	doc      string
	rows     []row
	inherits bool               // see inherited
	former   map[string]string  // keys that files once had, and what to do instead
	bound    func(to any) []row // the rows of blockOf for a pointer to what the block describes
}

// row describes one key.
type row struct {
	key  string
	is   shape  // what its value may be
	need bool   // the block is wrong without it
	def  string // what counts when it is not there; "{}" is a block of defaults
	doc  string
	// typical is a figure that people meet, and where it is from; for the reference page only.
	typical string
	// to is where its value goes: a pointer to a field, or a function that is given the value. nil: the code that
	// reads the block asks for it by key.
	to any
}

// shape reads one kind of value. read reports what is wrong and gives nil then.
type shape interface {
	read(l *loader, n *node) any
	schema() map[string]any
}

// inherited lets the keys come from another file by `like:`, so that one file alone need not hold them.
func (t *table) inherited() *table {
	t.inherits = true
	return t
}

// withFormer adds a key that files once had, and what to do instead.
func (t *table) withFormer(key, instead string) *table {
	t.former = map[string]string{key: instead}
	return t
}

// object is a block of keys that was read by a table. A nil object has no values.
type object struct {
	of   *table // nil: the block could not be read
	at   harness.Place
	kind string // of variants: the key that tells them apart
	vals map[string]value
}

// value is one value with its place. x is nil when it isn't there or is wrong, which was reported.
type value struct {
	at    harness.Place
	x     any
	given bool // it stands in the file; false for a default
}

func (o *object) get(key string) value {
	if o == nil {
		return value{}
	}
	return o.vals[key]
}

func (v value) ok() bool        { return v.x != nil }
func (v value) num() float64    { x, _ := v.x.(float64); return x }
func (v value) text() string    { x, _ := v.x.(string); return x }
func (v value) flag() bool      { x, _ := v.x.(bool); return x }
func (v value) object() *object { x, _ := v.x.(*object); return x }
func (v value) list() []value   { x, _ := v.x.([]value); return x }

// objects gives the elements of a list of blocks; one that is wrong, which was reported, is empty.
func (v value) objects() []*object {
	var out []*object
	for _, e := range v.list() {
		o := e.object()
		if o == nil {
			o = &object{at: e.at}
		}
		out = append(out, o)
	}
	return out
}

// rising reports blocks of a list in which the value of a key does not rise from one to the next.
func (l *loader) rising(list value, key string, dim quantity.Dimension) {
	last := math.Inf(-1)
	for _, o := range list.objects() {
		v := o.get(key)
		if !v.ok() {
			continue
		}
		if v.num() <= last {
			l.report(harness.Problem{Place: v.at, Found: fmt.Sprintf("%s: %s after %s", key, quantity.Text(v.num(), dim), quantity.Text(last, dim)), Wanted: "values that rise from row to row"})
		}
		last = v.num()
	}
}

func (t *table) keys() []string {
	var keys []string
	for _, r := range t.rows {
		keys = append(keys, r.key)
	}
	return keys
}

// read reads a whole block. A wrong or missing key leaves its value out; the rest is still read.
func (t *table) read(l *loader, n *node) any {
	o := t.fields(l, n)
	if o == nil {
		return nil
	}
	t.complete(l, o)
	l.examples.keep(t, "", n)
	return o
}

// reading notes which block is read, until what it gives is called.
func (l *loader) reading(t *table) func() { return l.about(paths[t]) }

// about notes which entry of the reference tells of what is read, until what it gives is called.
func (l *loader) about(entry string) func() {
	was := l.see
	l.see = entry
	return func() { l.see = was }
}

// fields reads the keys that are there.
func (t *table) fields(l *loader, n *node) *object {
	if n.kind != mapping {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: t.name + " with its keys", Hint: "the keys are " + choices(t.keys())})
		return nil
	}
	defer l.reading(t)()
	o := &object{of: t, at: n.at, vals: map[string]value{}}
	l.enters(n.at, l.see)
	for i, k := range n.keys {
		r := slices.IndexFunc(t.rows, func(r row) bool { return r.key == k.text })
		if r < 0 {
			hint := t.former[k.text]
			if hint == "" {
				hint = nearest(k.text, t.keys())
			}
			if hint == "" {
				hint = "the keys are " + choices(t.keys())
			}
			l.report(harness.Problem{Place: k.at, Found: "unknown key " + quote(k.text), Wanted: "a key of " + t.name, Hint: hint})
			continue
		}
		leave := l.about(l.see + "." + k.text)
		l.enters(k.at, l.see)
		l.enters(n.items[i].at, l.see)
		o.vals[k.text] = value{n.items[i].at, t.rows[r].is.read(l, n.items[i]), true}
		leave()
		l.examples.keep(t, k.text, n.items[i])
	}
	return o
}

// complete fills in defaults and reports keys that are missing.
func (t *table) complete(l *loader, o *object) {
	defer l.reading(t)()
	for _, r := range t.rows {
		_, there := o.vals[r.key]
		switch {
		case there:
		case r.need:
			l.report(harness.Problem{Place: o.at, Found: fmt.Sprintf("%s without %q", t.name, r.key), Wanted: r.key + ": " + r.doc})
		case r.def != "":
			o.vals[r.key] = value{at: o.at, x: r.is.read(l, r.defaultNode(o.at))}
		}
	}
}

func (r *row) defaultNode(at harness.Place) *node {
	if r.def == "{}" {
		return &node{at: at, kind: mapping}
	}
	return &node{at: at, kind: scalar, text: r.def}
}

// variants are blocks of which the key in the first row of each table tells the kind.
type variants struct {
	name   string // with its article: "a fault"
	tables []*table
}

func (v *variants) kinds() []string {
	var kinds []string
	for _, t := range v.tables {
		kinds = append(kinds, t.rows[0].key)
	}
	return kinds
}

func (v *variants) read(l *loader, n *node) any {
	want := v.name + " that starts with its kind: " + choices(v.kinds())
	if n.kind != mapping || len(n.keys) == 0 {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: want})
		return nil
	}
	var t *table
	for i, kind := range v.kinds() {
		switch {
		case n.value(kind) == nil:
		case t != nil:
			l.report(harness.Problem{Place: n.at, Found: fmt.Sprintf("both %q and %q", t.rows[0].key, kind), Wanted: "one kind of " + strings.TrimPrefix(strings.TrimPrefix(v.name, "an "), "a "), Hint: "write two entries"})
			return nil
		default:
			t = v.tables[i]
		}
	}
	if t == nil {
		l.report(harness.Problem{Place: n.keys[0].at, Found: "unknown kind " + quote(n.keys[0].text), Wanted: want, Hint: nearest(n.keys[0].text, v.kinds())})
		return nil
	}
	o, _ := t.read(l, n).(*object)
	if o == nil {
		return nil
	}
	o.kind = t.rows[0].key
	return o
}
