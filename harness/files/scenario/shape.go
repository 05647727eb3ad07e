package scenario

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"drystage/harness"
	"drystage/sim/quantity"
	"drystage/sim/r3"
)

// quantityShape is a quantity with its unit, inside a sane range in SI.
type quantityShape struct {
	dim      quantity.Dimension
	min, max float64
}

func (s quantityShape) read(l *loader, n *node) any {
	if !l.isScalar(n, s.want()) {
		return nil
	}
	x, err := quantity.Parse(n.text, s.dim)
	if err != nil {
		l.reportQuantity(n.at, s.withUnit(n.text, err))
		return nil
	}
	const rounding = 1e-12 // of a unit's conversion: 140 degF is 60 degC, and comes out a little above it
	if x < s.min-rounding*math.Abs(s.min) || x > s.max+rounding*math.Abs(s.max) {
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: s.want()})
		return nil
	}
	return min(max(x, s.min), s.max)
}

// withUnit makes the hint of a number without a unit name one by which it is in range.
func (s quantityShape) withUnit(text string, err error) error {
	var e *quantity.Error
	if !errors.As(err, &e) {
		return err
	}
	if _, perr := quantity.Parse(text, quantity.Number); perr != nil {
		return err
	}
	if x, perr := quantity.Parse(text+" "+quantity.Usual(s.dim), s.dim); perr == nil && x >= s.min && x <= s.max {
		return err // as its hint says already
	}
	for _, u := range quantity.Units(s.dim) {
		if x, perr := quantity.Parse(text+" "+u, s.dim); perr == nil && x >= s.min && x <= s.max {
			return &quantity.Error{Found: e.Found, Wanted: e.Wanted, Hint: fmt.Sprintf("add the unit, as in %q", text+" "+u)}
		}
	}
	return err
}

func (s quantityShape) want() string {
	return fmt.Sprintf("%s from %s to %s", s.dim, quantity.Text(s.min, s.dim), quantity.Text(s.max, s.dim))
}

func (l *loader) isScalar(n *node, want string) bool {
	if n.kind != scalar {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: want})
	}
	return n.kind == scalar
}

func (l *loader) reportQuantity(at harness.Place, err error) {
	var e *quantity.Error
	if errors.As(err, &e) {
		l.report(harness.Problem{Place: at, Found: e.Found, Wanted: e.Wanted, Hint: e.Hint})
	}
}

// number is a plain number; whole ones have no decimals.
type number struct {
	min, max float64
	whole    bool
}

func (s number) read(l *loader, n *node) any {
	if !s.whole {
		return quantityShape{quantity.Number, s.min, s.max}.read(l, n)
	}
	if !l.isScalar(n, s.want()) {
		return nil
	}
	x, err := quantity.Parse(n.text, quantity.Number)
	if err != nil || x != math.Trunc(x) || x < s.min || x > s.max {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: s.want()})
		return nil
	}
	return x
}

func (s number) want() string { return fmt.Sprintf("a whole number from %.0f to %.0f", s.min, s.max) }

// seed is any unsigned 64-bit number.
type seed struct{}

func (seed) read(l *loader, n *node) any {
	x, err := strconv.ParseUint(n.text, 10, 64)
	if n.kind != scalar || err != nil {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: "a whole number from 0 to 18446744073709551615"})
		return nil
	}
	return x
}

// vector is three quantities in one dimension, each at most max either way.
type vector struct {
	dim quantity.Dimension
	max float64
}

func (s vector) read(l *loader, n *node) any {
	if n.kind != list || len(n.items) != 3 {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: fmt.Sprintf("a list of three, each %s", s.dim)})
		return nil
	}
	var v [3]float64
	for i, e := range n.items {
		x, ok := quantityShape{s.dim, -s.max, s.max}.read(l, e).(float64)
		if !ok {
			return nil
		}
		v[i] = x
	}
	return r3.Vec{X: v[0], Y: v[1], Z: v[2]}
}

// amount is a quantity whose dimension depends on another key; loader.amount reads it then.
type amount struct{}

func (amount) read(l *loader, n *node) any {
	if !l.isScalar(n, "a number with a unit") {
		return nil
	}
	if _, _, err := quantity.Any(n.text); err != nil {
		l.reportQuantity(n.at, err)
		return nil
	}
	return n.text
}

// amount takes a value of shape amount as a quantity of a dimension and range.
func (l *loader) amount(v value, s quantityShape) (x float64, ok bool) {
	if !v.ok() {
		return 0, false
	}
	x, ok = s.read(l, &node{at: v.at, kind: scalar, text: v.text()}).(float64)
	return x, ok
}

// settingShape is the text of a setting's value; what it may be depends on the setting, see loader.settingValue.
type settingShape struct{}

func (settingShape) read(l *loader, n *node) any {
	if !l.isScalar(n, "a number, a quantity, true or false") {
		return nil
	}
	return n.text
}

// words is one of several words.
type words []string

func (s words) read(l *loader, n *node) any {
	if !l.isScalar(n, choices(s)) {
		return nil
	}
	if !slices.Contains(s, n.text) {
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: choices(s), Hint: nearest(n.text, s)})
		return nil
	}
	return n.text
}

// flag is true or false.
type flag struct{}

func (flag) read(l *loader, n *node) any {
	if n.kind != scalar || n.text != "true" && n.text != "false" {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: "true or false"})
		return nil
	}
	return n.text == "true"
}

// textLine is text for people: one line, or with story several.
type textLine struct {
	most  int
	story bool
}

func (s textLine) want() string { return fmt.Sprintf("text of at most %d characters", s.most) }

func (s textLine) read(l *loader, n *node) any {
	want := s.want()
	if !l.isScalar(n, want) {
		return nil
	}
	text := strings.TrimSpace(n.text)
	odd := strings.IndexFunc(text, func(r rune) bool { return unsafeInLine(r) && !(s.story && r == '\n') })
	switch {
	case text == "":
		l.report(harness.Problem{Place: n.at, Found: "empty text", Wanted: want})
		return nil
	case odd >= 0 || utf8.RuneCountInString(text) > s.most:
		l.report(harness.Problem{Place: n.at, Found: quote(text), Wanted: want + ", without characters that control how it is shown"})
		return nil
	}
	return text
}

// unsafeInLine says that a character does something to a terminal or turns the order of writing (Unicode
// Standard Annex 9).
func unsafeInLine(r rune) bool {
	return unicode.In(r, unicode.Cc, unicode.Zl, unicode.Zp, unicode.Bidi_Control)
}

// name is a word that other files and the contract can carry, or several joined by a point, as in
// "sustainer.drogue".
type name struct {
	parts []string // what each part names, for a Problem
	most  int
}

var nameWord = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*$`)

func (s name) read(l *loader, n *node) any {
	if !l.isScalar(n, s.want()) {
		return nil
	}
	parts := strings.Split(n.text, ".")
	wrong := len(parts) != len(s.parts)
	for _, p := range parts {
		wrong = wrong || !nameWord.MatchString(p) || len(p) > s.most
	}
	if wrong {
		l.report(harness.Problem{Place: n.at, Found: quote(n.text), Wanted: s.want(), Hint: fmt.Sprintf("each word has at most %d letters, digits and _, a letter first", s.most)})
		return nil
	}
	return n.text
}

func (s name) want() string { return strings.Join(s.parts, ".") }

// filePath is the path of another file.
type filePath struct{}

func (filePath) read(l *loader, n *node) any {
	if n.kind != scalar || n.text == "" {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: "the path of a file, relative to this one"})
		return nil
	}
	return n.text
}

// listShape is a list.
type listShape struct {
	of          shape
	least, most int
}

func (s listShape) read(l *loader, n *node) any {
	if n.kind != list || len(n.items) < s.least || len(n.items) > s.most {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: s.want()})
		return nil
	}
	vals := []value{}
	for _, e := range n.items {
		l.enters(e.at, l.see)
		vals = append(vals, value{e.at, s.of.read(l, e), true})
	}
	return vals
}

func (s listShape) want() string {
	if s.least == s.most {
		return fmt.Sprintf("a list of %d", s.most)
	}
	return fmt.Sprintf("a list of %d to %d", s.least, s.most)
}

// namedBlocks is a block whose keys are names that the user chooses, each with a block of its own.
type namedBlocks struct {
	of          shape
	least, most int
	letters     int    // in a name, at most
	what        string // the names are of
}

// entry is one key and value of a named block.
type entry struct {
	name string
	at   harness.Place // of the name
	val  value
}

func (s namedBlocks) read(l *loader, n *node) any {
	if n.kind != mapping || len(n.keys) < s.least || len(n.keys) > s.most {
		l.report(harness.Problem{Place: n.at, Found: n.found(), Wanted: fmt.Sprintf("%d to %d keys, each the name of %s", s.least, s.most, s.what)})
		return nil
	}
	entries := []entry{}
	for i, k := range n.keys {
		l.enters(k.at, l.see)
		l.enters(n.items[i].at, l.see)
		if (name{[]string{s.what}, s.letters}).read(l, k) == nil {
			continue
		}
		entries = append(entries, entry{k.text, k.at, value{n.items[i].at, s.of.read(l, n.items[i]), true}})
	}
	return entries
}

// entries gives what a named block holds, in the order of the file.
func (v value) entries() []entry {
	e, _ := v.x.([]entry)
	return e
}
