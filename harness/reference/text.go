package reference

import (
	"fmt"
	"strings"
)

// Text tells what was found, for a terminal; with all also what lies inside of it.
func Text(found, others []Found, all bool) string {
	var b strings.Builder
	if len(found) > 1 {
		b.WriteString("There are several; name one:\n")
		list(&b, found)
		return b.String()
	}
	f := &found[0]
	switch {
	case f.Entry != nil:
		fmt.Fprintf(&b, "%s, of %s\n", f.Path(), firstLine(f.Block.Doc))
		f.Entry.text(&b)
	case f.Block != nil:
		f.Page.block(&b, f.Block, all)
	case f.Page.Tree:
		f.Page.block(&b, &f.Page.Blocks[0], all)
	default:
		fmt.Fprintf(&b, "%s\n%s", f.Page.Name, indented(f.Page.Doc, "  "))
		for i := range f.Page.Blocks {
			b.WriteByte('\n')
			f.Page.Blocks[i].text(&b)
		}
	}
	if len(others) > 0 && len(others) < 12 {
		b.WriteString("\nalso:\n")
		list(&b, others)
	}
	return b.String()
}

// List tells what pages there are.
func List(pages []Page) string {
	var b strings.Builder
	for i := range pages {
		fmt.Fprintf(&b, "  %-13s %s\n", pages[i].Name, firstLine(pages[i].Doc))
	}
	return b.String()
}

func list(b *strings.Builder, found []Found) {
	for i := range found {
		fmt.Fprintf(b, "  drystage explain %-34s %s\n", found[i].Path(), firstLine(found[i].doc()))
	}
}

// block tells one block, and names or tells those inside.
func (p *Page) block(b *strings.Builder, of *Block, all bool) {
	of.text(b)
	inner := p.inside(of.Path)
	if !p.Tree || len(inner) == 0 {
		return
	}
	if !all {
		b.WriteString("\ninside (--all tells them, too):\n")
	}
	for _, x := range inner {
		if all {
			b.WriteByte('\n')
			x.text(b)
		} else {
			fmt.Fprintf(b, "  drystage explain %-34s %s\n", x.Path, firstLine(x.Doc))
		}
	}
}

func (o *Block) text(b *strings.Builder) {
	fmt.Fprintf(b, "%s\n%s", o.Path, indented(o.Doc, "  "))
	for i := range o.Entries {
		o.Entries[i].text(b)
	}
	for _, n := range o.Notes {
		b.WriteString(indented(n, "  "))
	}
	if o.Example != "" {
		fmt.Fprintf(b, "    example%s: %s\n", where(o.From), strings.TrimSpace(o.Example))
	}
}

func (e *Entry) text(b *strings.Builder) {
	wants, def := e.Wants, "default "+e.Default
	if e.Unit != "" {
		wants += " (" + e.Unit + ")"
	}
	switch e.Default {
	case Required:
		def = e.Default
	case Always:
		def = e.Default
	case None:
		def = "optional"
	}
	fmt.Fprintf(b, "\n  %s: %s, %s\n    %s\n", e.Key, wants, def, e.Doc)
	if e.Typical != "" {
		fmt.Fprintf(b, "    typical: %s\n", e.Typical)
	}
	if e.Example != "" {
		fmt.Fprintf(b, "    example%s: %s\n", where(e.From), e.Example)
	}
	if e.Block != "" {
		fmt.Fprintf(b, "    its keys: drystage explain %s\n", e.Block)
	}
}

// Always is the Default of a key of an output that is never left out.
const Always = "always there"

// None is the Default of an entry that is simply not there without its key.
const None = "none"

func where(from string) string {
	if from == "" {
		return ""
	}
	return ", " + from
}

func indented(text, by string) string {
	return by + strings.ReplaceAll(strings.TrimRight(text, "\n"), "\n", "\n"+by) + "\n"
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	if i := strings.Index(line, ". "); i > 0 {
		line = line[:i]
	}
	return strings.TrimSuffix(line, ".")
}
