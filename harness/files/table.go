package files

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// form is what may stand behind a key.
type form uint8

const (
	asText     form = iota // any text
	asWord                 // one of words
	asQuantity             // a quantity of dim between least and most
	asWhole                // a whole number between least and most
	asFlag                 // true or false
	asAnchor               // an event, give or take a span
	asFile                 // a path relative to this file
	asBlock                // a mapping with the fields of block
	asBlocks               // a list of mappings, each with the fields of block
	asVariants             // a list of mappings, each one of variants, told by its first field
	asTriple               // a list of three quantities
	asPair                 // a list of two texts
	asRoles                // a mapping from names of the user's own to block
	asSettings             // a mapping from names of the user's own to quantities of any kind
	asLater                // text whose dimension another key decides
)

// field is one key of a block: the row from which it is read, refused and described in the schema.
type field struct {
	key         string
	form        form
	dim         quantity.Dimension
	least, most float64 // SI
	need        bool
	words       []string
	block       *block
	variants    []*block
	doc         string
}

// block is a mapping with known keys.
type block struct {
	doc    string
	fields []field
}

func (b *block) keys() []string {
	out := make([]string, len(b.fields))
	for i, f := range b.fields {
		out[i] = f.key
	}
	return out
}

func (b *block) field(key string) *field {
	for i := range b.fields {
		if b.fields[i].key == key {
			return &b.fields[i]
		}
	}
	return nil
}

// value is what was read behind a key.
type value struct {
	n      *node
	num    float64
	triple [3]float64
	block  *values
	list   []*values
}

// values is what was read of a block. Keys that are missing, or were refused, are not in it.
type values struct {
	at    harness.Place
	block *block
	by    map[string]value
	names []string // of asRoles and asSettings, in the order written
}

func (v *values) has(key string) bool          { _, ok := v.by[key]; return ok }
func (v *values) num(key string) float64       { return v.by[key].num }
func (v *values) time(key string) sim.Time     { return sim.Seconds(v.by[key].num) }
func (v *values) list(key string) []*values    { return v.by[key].list }
func (v *values) triple(key string) [3]float64 { return v.by[key].triple }

func (v *values) text(key string) string {
	if n := v.by[key].n; n != nil {
		return n.text
	}
	return ""
}

// place is where a key's value stands, or else the block.
func (v *values) place(key string) harness.Place {
	if n := v.by[key].n; n != nil {
		return n.at
	}
	return v.at
}

// sub gives a nested block; an empty one when it was not written.
func (v *values) sub(key string) *values {
	if b := v.by[key].block; b != nil {
		return b
	}
	return &values{at: v.at}
}

// or gives a number, or a default when the key was not written.
func (v *values) or(key string, otherwise float64) float64 {
	if v.has(key) {
		return v.num(key)
	}
	return otherwise
}

// take reads a mapping by its table, and keeps a problem for all that does not fit.
func (r *reader) take(n *node, b *block) *values {
	v := &values{at: n.at, block: b, by: map[string]value{}}
	if n.kind != mapping {
		r.found(n.at, n.String(), "a mapping with "+oneOf(b.keys()), "")
		return v
	}
	for _, p := range n.pairs {
		f := b.field(p.key)
		if f == nil {
			hint := near(p.key, b.keys())
			if hint == "" {
				hint = "known keys: " + strings.Join(b.keys(), ", ")
			}
			r.found(p.at, "the unknown key "+quote(p.key), "", hint)
			continue
		}
		if p.value.kind == refused {
			continue
		}
		if p.value.kind == empty {
			r.found(p.value.at, "nothing behind `"+p.key+"`", f.wanted(), "")
			continue
		}
		if val, ok := r.value(p.value, f); ok {
			v.by[p.key] = val
		}
	}
	for _, f := range b.fields {
		if f.need && n.get(f.key) == nil {
			r.found(n.at, "no key `"+f.key+"`", f.wanted(), "")
		}
	}
	return v
}

// value reads what stands behind one key.
func (r *reader) value(n *node, f *field) (value, bool) {
	v := value{n: n}
	if n.kind == refused {
		return v, false
	}
	switch f.form {
	case asBlock:
		v.block = r.take(n, f.block)
		return v, n.kind == mapping
	case asBlocks, asVariants:
		return r.blocks(n, f)
	case asRoles, asSettings:
		return r.named(n, f)
	case asTriple, asPair:
		return r.several(n, f)
	}
	if n.kind != scalar {
		r.found(n.at, n.String(), f.wanted(), "")
		return v, false
	}
	switch f.form {
	case asWord:
		if !contains(f.words, n.text) {
			r.found(n.at, quote(n.text), oneOf(f.words), near(n.text, f.words))
			return v, false
		}
	case asFlag:
		if n.text != "true" && n.text != "false" {
			r.found(n.at, quote(n.text), "true or false", "")
			return v, false
		}
	case asWhole:
		x, err := strconv.Atoi(n.text)
		if err != nil || float64(x) < f.least || float64(x) > f.most {
			r.found(n.at, quote(n.text), f.wanted(), "")
			return v, false
		}
		v.num = float64(x)
	case asQuantity:
		var ok bool
		v.num, ok = r.quantity(n, f.dim, f.least, f.most)
		return v, ok
	}
	return v, true
}

// quantity reads a quantity of a dimension between two limits in SI.
func (r *reader) quantity(n *node, d quantity.Dimension, least, most float64) (float64, bool) {
	x, err := quantity.Parse(n.text, d)
	var e *quantity.Error
	switch {
	case errors.As(err, &e):
		r.found(n.at, e.Found, e.Wanted, e.Hint)
		return 0, false
	case x < least || x > most:
		r.found(n.at, quote(n.text), span(d, least, most), "this is out of the sane range")
		return 0, false
	}
	return x, true
}

func span(d quantity.Dimension, least, most float64) string {
	switch {
	case math.IsInf(most, 1) && math.IsInf(least, -1):
		return d.String()
	case math.IsInf(most, 1):
		return d.String() + " of at least " + quantity.Text(least, d)
	case math.IsInf(least, -1):
		return d.String() + " of at most " + quantity.Text(most, d)
	}
	return fmt.Sprintf("%s between %s and %s", d, quantity.Text(least, d), quantity.Text(most, d))
}

func (r *reader) blocks(n *node, f *field) (value, bool) {
	v := value{n: n}
	if n.kind != list {
		r.found(n.at, n.String(), f.wanted(), "start each with `- `")
		return v, false
	}
	for _, item := range n.items {
		if item.kind == refused {
			continue
		}
		b := f.block
		if f.form == asVariants {
			if b = r.variant(item, f); b == nil {
				continue
			}
		}
		v.list = append(v.list, r.take(item, b))
	}
	return v, true
}

// variant finds which variant a mapping is: the one whose first field it has.
func (r *reader) variant(n *node, f *field) *block {
	var firsts []string
	for _, b := range f.variants {
		if n.get(b.fields[0].key) != nil {
			return b
		}
		firsts = append(firsts, b.fields[0].key)
	}
	hint := ""
	for _, p := range n.pairs {
		if h := near(p.key, firsts); h != "" && hint == "" {
			hint = h
		}
	}
	r.found(n.at, n.String()+" without a kind", "one of "+oneOf(firsts), hint)
	return nil
}

// named reads a mapping whose keys are names of the user's own.
func (r *reader) named(n *node, f *field) (value, bool) {
	v := value{n: n, block: &values{at: n.at, by: map[string]value{}}}
	if n.kind != mapping {
		r.found(n.at, n.String(), f.wanted(), "")
		return v, false
	}
	for _, p := range n.pairs {
		if !nameLike(p.key) {
			r.found(p.at, "the name "+quote(p.key), "1 to 15 of a-z, 0-9, _ or -, a letter first", "")
			continue
		}
		one := value{n: p.value}
		ok := true
		if f.form == asRoles {
			one.block = r.take(p.value, f.block)
		} else {
			one.num, ok = r.setting(p.value)
		}
		if ok {
			v.block.by[p.key] = one
			v.block.names = append(v.block.names, p.key)
		}
	}
	return v, true
}

// setting reads a number or quantity of any dimension, or true or false as 1 or 0.
func (r *reader) setting(n *node) (float64, bool) {
	switch {
	case n.kind != scalar:
		r.found(n.at, n.String(), "a number, a quantity, true or false", "")
		return 0, false
	case n.text == "true":
		return 1, true
	case n.text == "false":
		return 0, true
	}
	x, _, err := quantity.Any(n.text)
	var e *quantity.Error
	if errors.As(err, &e) {
		r.found(n.at, e.Found, "a number, a quantity, true or false", e.Hint)
		return 0, false
	}
	const most = math.MaxInt32 / 1000.0 // it travels as a whole number of thousandths
	if math.Abs(x) > most {
		r.found(n.at, quote(n.text), fmt.Sprintf("at most %.0f in SI units", most), "")
		return 0, false
	}
	return x, true
}

func (r *reader) several(n *node, f *field) (value, bool) {
	v := value{n: n}
	want := 3
	if f.form == asPair {
		want = 2
	}
	if n.kind != list || len(n.items) != want {
		r.found(n.at, n.String(), f.wanted(), "")
		return v, false
	}
	good := true
	for i, item := range n.items {
		switch {
		case item.kind != scalar:
			r.found(item.at, item.String(), "a value", "")
			good = false
		case f.form == asTriple:
			x, ok := r.quantity(item, f.dim, f.least, f.most)
			v.triple[i] = x
			good = good && ok
		}
	}
	return v, good
}

// wanted says what may stand behind the key.
func (f *field) wanted() string {
	switch f.form {
	case asWord:
		return oneOf(f.words)
	case asQuantity:
		return span(f.dim, f.least, f.most)
	case asWhole:
		return fmt.Sprintf("a whole number between %.0f and %.0f", f.least, f.most)
	case asFlag:
		return "true or false"
	case asAnchor:
		return "an event, such as `booster.burnout + 0.5 s`"
	case asFile:
		return "the path of a file"
	case asBlock:
		return "a mapping with " + oneOf(f.block.keys())
	case asBlocks, asVariants:
		return "a list"
	case asTriple:
		return "a list of three: " + span(f.dim, f.least, f.most)
	case asPair:
		return "a list of two"
	case asRoles, asSettings:
		return "a mapping of names"
	case asLater:
		return "a quantity"
	}
	return f.doc
}

// nameLike says whether a name fits the contract and STAGE.EVENT texts.
func nameLike(s string) bool {
	for i, c := range s {
		if !(c >= 'a' && c <= 'z' || i > 0 && (c >= '0' && c <= '9' || c == '_' || c == '-')) {
			return false
		}
	}
	return s != "" && len(s) <= 24
}
