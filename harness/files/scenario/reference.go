package scenario

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/harness/reference"
	"drystage/sim"
	"drystage/sim/quantity"
)

// paths gives each table's place in the reference, such as vehicle.stages.fins. One that is in several places has its
// first.
var paths = func() map[*table]string {
	all := map[*table]string{}
	for _, k := range kinds {
		placeTable(all, k.of, k.name)
	}
	for _, t := range faultShape.tables {
		placeTable(all, t, "faults."+t.rows[0].key)
	}
	for _, t := range expectShape.tables {
		placeTable(all, t, "expectations."+t.rows[0].key)
	}
	return all
}()

func placeTable(all map[*table]string, t *table, at string) {
	if _, is := all[t]; is {
		return
	}
	if t == repeatTable { // of every kind of fault
		at = "faults.repeat"
	}
	all[t] = at
	for _, r := range t.rows {
		if in := tableIn(r.is); in != nil {
			placeTable(all, in, at+"."+r.key)
		}
	}
}

// tableIn gives the block that a shape is, or is a list of, or has under names.
func tableIn(s shape) *table {
	switch s := s.(type) {
	case *table:
		return s
	case listShape:
		return tableIn(s.of)
	case namedBlocks:
		return tableIn(s.of)
	}
	return nil
}

// Reference gives the pages about files: one for each kind, expectations, faults, events, quantities and warnings.
// Examples are what the files below a folder say.
func Reference(fsys fs.FS, folder string) []reference.Page {
	c := &pageMaker{examples: exampleSet{}}
	c.examples.gather(fsys, folder)
	c.examples.gather(Examples, exampleFolder)
	var pages []reference.Page
	for _, k := range kinds {
		p := reference.Page{Name: k.name, Doc: k.of.doc, Tree: true}
		c.tree(&p, k.of)
		pages = append(pages, p)
	}
	for _, v := range []struct {
		name, doc string
		of        *variants
	}{
		{"expectations", "What a scenario expects, under `expect`: each is a block that starts with its kind.", expectShape},
		{"faults", "What goes wrong in a scenario, under `faults`: each is a block that starts with its kind.", faultShape},
	} {
		p := reference.Page{Name: v.name, Doc: v.doc}
		for _, t := range v.of.tables {
			c.tree(&p, t)
		}
		pages = append(pages, p)
	}
	return append(pages, eventsPage(), quantitiesPage(), warningsPage(), unitsPage())
}

// Examples holds files that use the keys which the shipped ones don't, so that each key has an example. A test flies
// them.
//
//go:embed example
var Examples embed.FS

const exampleFolder = "example"

// pageMaker makes pages of tables, each table once.
type pageMaker struct {
	examples exampleSet
	made     []*table
}

// tree adds a block's page and those of the blocks inside.
func (c *pageMaker) tree(p *reference.Page, t *table) {
	if slices.Contains(c.made, t) {
		return
	}
	c.made = append(c.made, t)
	b := reference.Block{Path: paths[t], Doc: t.doc}
	for _, r := range t.rows {
		x := c.examples[rowOf{t, r.key}]
		e := reference.Entry{Key: r.key, Wants: wants(r.is), Unit: unitOf(r.is), Default: r.without(), Doc: r.doc, Typical: r.typical, Example: x.text, From: x.from}
		if in := tableIn(r.is); in != nil {
			e.Block = paths[in]
		}
		b.Entries = append(b.Entries, e)
	}
	if t == varyTable {
		b.Notes = append(b.Notes, variedText())
	}
	if ranges := rangesText(t); ranges != "" {
		b.Notes = append(b.Notes, ranges)
	}
	if x := c.examples[rowOf{t, ""}]; x.text != "" {
		b.Example, b.From = x.text, x.from
	}
	p.Blocks = append(p.Blocks, b)
	for _, r := range t.rows {
		if in := tableIn(r.is); in != nil {
			c.tree(p, in)
		}
	}
}

// without says what counts when a key is not there.
func (r *row) without() string {
	switch {
	case r.need:
		return reference.Required
	case r.def == "{}":
		return "a block with its defaults"
	case r.def != "":
		return r.def
	}
	if _, def, is := strings.Cut(r.doc, "default "); is {
		def, _, _ = strings.Cut(def, ";")
		return def
	}
	return reference.None
}

// wants says what a value may be, without its units.
func wants(s shape) string {
	switch s := s.(type) {
	case number:
		if s.whole {
			return s.want()
		}
		return fmt.Sprintf("a number from %v to %v", s.min, s.max)
	case vector:
		return fmt.Sprintf("a list of three, each %s of at most %s either way", s.dim, quantity.Text(s.max, s.dim))
	case amount:
		return "a quantity"
	case seed:
		return "a whole number from 0 to 18446744073709551615"
	case flag:
		return "true or false"
	case words:
		return choices(s)
	case anchor:
		return "an instant (`drystage explain events`)"
	case matrix:
		return "three rows of three numbers"
	case mounting:
		return mountingForm
	case settingShape:
		return "a number, a quantity, true or false"
	case filePath:
		return "the path of a file, relative to this one"
	case effectShape:
		return effectForm
	case nameShape:
		return s.form
	case instant:
		return instantForm
	case measureShape:
		return "[STAGE] QUANTITY (`drystage explain quantities`)"
	case bound:
		return boundForm
	case chipPin:
		return "a pin of the chip, such as PA0"
	case busAddress:
		return "an address of seven bits, as 104 or 0x68"
	case pinWord:
		return "the name of a pin, such as GPIO17"
	case boardAddress:
		return "serial:PORT, serial:usb=VID:PID, unix:PATH, tcp:HOST:PORT or mock"
	case driveDoes:
		return driveForm
	case *table:
		return "a block of " + strings.Join(s.keys(), ", ")
	case *variants:
		return s.name
	case listShape:
		return fmt.Sprintf("%s, each %s", listShape{least: max(1, s.least), most: s.most}.want(), wants(s.of))
	case namedBlocks:
		return fmt.Sprintf("up to %d keys, each the name of %s, with %s", s.most, s.what, wants(s.of))
	case interface{ want() string }:
		return s.want()
	}
	return "a value"
}

// unitOf gives the units that a value may have; empty: none.
func unitOf(s shape) string {
	switch s := s.(type) {
	case quantityShape:
		return strings.Join(quantity.Units(s.dim), ", ")
	case vector:
		return strings.Trim(strings.Join(quantity.Units(s.dim), ", "), ", ")
	case number:
		if !s.whole {
			return "none, or %"
		}
	case amount, settingShape:
		return "that of what it is about"
	case anchor:
		return "s and other units of time, of a span"
	case bound:
		return "that of its quantity"
	case listShape:
		return unitOf(s.of)
	}
	return ""
}

// variedText tells the names of all that can vary.
func variedText() string {
	var out strings.Builder
	out.WriteString("what can vary, by its name:\n")
	for _, f := range parameterForms() {
		what := ""
		switch {
		case f.is == (quantityShape{}):
		case f.is.dim == quantity.Number:
			what = wants(number{min: f.is.min, max: f.is.max}) + "; "
		default:
			what = f.is.want() + "; "
		}
		fmt.Fprintf(&out, "\n%s\n  %s%s\n", f.form, what, f.doc)
	}
	return out.String()
}

// rangesText tells what the size of a sensor fault may be for each part; empty for other tables.
func rangesText(t *table) string {
	k := sim.FaultKind(1 + slices.Index(sim.FaultKinds(), t.rows[0].key))
	by := slices.IndexFunc(t.rows, func(r row) bool { return r.key == "by" })
	if k == 0 || by < 0 {
		return ""
	}
	if _, is := t.rows[by].is.(amount); !is {
		return ""
	}
	out := "by may be\n"
	for i, word := range sim.PartNames() {
		p := sim.Part(i + 1)
		if dim := parts[p].dim; k.AppliesTo(p) {
			if k == sim.Drift {
				dim = parts[p].rate
			}
			out += fmt.Sprintf("  %s: up to %s\n", word, quantity.Text(parts[p].most, dim))
		}
	}
	return out
}

// rowOf is a key of a table; of the empty key the whole block.
type rowOf struct {
	of  *table
	key string
}

// shown is an example: its text and the place that it is from.
type shown struct{ text, from string }

// exampleSet holds the shortest example of each key.
type exampleSet map[rowOf]shown

// longExample is the length beyond which an example is of no use in a line.
const longExample = 110

// gather reads every file and keeps what it says.
func (x exampleSet) gather(fsys fs.FS, folder string) {
	_ = fs.WalkDir(fsys, folder, func(name string, d fs.DirEntry, err error) error { // what can't be read is no example
		if err != nil || d.IsDir() || !IsYAML(name) && !isMotor(name) {
			return nil
		}
		l := &loader{fsys: fsys, examples: x}
		f := l.read(path.Clean(name), harness.Place{})
		switch {
		case !f.good:
		case isMotor(name):
			l.readMotor(f)
		case f.root != nil && len(f.root.keys) > 0:
			for _, k := range kinds {
				if f.root.keys[0].text == kindKey && f.root.items[0].text == k.name {
					k.of.read(l, f.root)
				}
			}
		}
		return nil
	})
}

// keep notes what stands in a block at a key.
func (x exampleSet) keep(t *table, key string, n *node) {
	if x == nil {
		return
	}
	text := flowText(n)
	at := rowOf{t, key}
	if was, is := x[at]; text == "" || len(text) > longExample || is && (key != "" || len(text) <= len(was.text)) {
		return
	}
	x[at] = shown{text: text}
	if !strings.HasPrefix(n.at.File, exampleFolder+"/") { // those are on nobody's disk
		x[at] = shown{text, fmt.Sprintf("%s:%d", n.at.File, n.at.Line)}
	}
}

// flowText writes a value in one line.
func flowText(n *node) string {
	var parts []string
	switch n.kind {
	case scalar:
		return scalarText(n.text)
	case list:
		for _, e := range n.items {
			parts = append(parts, flowText(e))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case mapping:
		for i, k := range n.keys {
			parts = append(parts, k.text+": "+flowText(n.items[i]))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	}
	return ""
}

// scalarText quotes what would not be read as plain text.
func scalarText(s string) string {
	if strings.ContainsAny(s, ",[]{}#&*!|>'\"%@`\n") || strings.Contains(s, ": ") {
		return fmt.Sprintf("%q", s)
	}
	return s
}
