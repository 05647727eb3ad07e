// Package reference holds what people look up, as data: pages of blocks of entries, with the words by which they are
// found, as text for a terminal and as Markdown. What the pages say comes from the tables by which files are read and
// commands are made.
package reference

import (
	"cmp"
	"slices"
	"strings"

	"drystage/harness/spelling"
)

// Page is all about one kind of file, or of other things that have names.
type Page struct {
	Name   string // "vehicle"
	Doc    string
	Blocks []Block
	Tree   bool // blocks lie inside each other, the first around all; otherwise they stand side by side
}

// Block is a block of keys, a command, or a single thing with a name, such as an event.
type Block struct {
	Path    string // "vehicle.stages.fins": no other block has it
	Doc     string
	Entries []Entry
	Notes   []string // lines below the entries
	Example string   // of the whole block
	From    string   // where the example is used
}

// Entry is one key of a block.
type Entry struct {
	Key     string
	Wants   string // what its value may be
	Unit    string // the units that it may have; empty: it has none
	Default string // what counts without it; "required" if it must be there
	Doc     string
	Typical string // a figure that people meet, and its source
	Example string // a value
	From    string // where the example is used: file:line
	Block   string // the path of the block that the value is
}

// Required is the Default of an entry that must be there.
const Required = "required"

// Aliases are words for paths that people look for under another name.
var aliases = map[string]string{"parts": "board.sensors", "anchors": "events", "instants": "events", "fault": "faults", "expect": "expectations", "expectation": "expectations", "formats": "outputs", "flags": "commands"}

// Found is what a word means.
type Found struct {
	Page  *Page
	Block *Block // nil: the whole page
	Entry *Entry // nil: the whole block
}

// Path is the full name of what was found.
func (f *Found) Path() string {
	switch {
	case f.Block == nil:
		return f.Page.Name
	case f.Entry == nil:
		return f.Block.Path
	}
	return f.Block.Path + "." + f.Entry.Key
}

// doc is the first sentence about it.
func (f *Found) doc() string {
	text := f.Page.Doc
	switch {
	case f.Entry != nil:
		text = f.Entry.Doc
	case f.Block != nil:
		text = f.Block.Doc
	}
	if i := strings.IndexAny(text, ".;:"); i > 0 {
		text = text[:i]
	}
	return text
}

// Find gives what a word means: a page's name, or the last words of a path, such as fins.root. A whole path comes
// first, then pages, blocks and entries; all of the first kind that has some are given, and the rest as others.
func Find(pages []Page, word string) (found, others []Found) {
	if to, is := aliases[word]; is {
		word = to
	}
	all := everything(pages)
	ends := func(f Found) bool { return f.Path() == word || strings.HasSuffix(f.Path(), "."+word) }
	all = slices.DeleteFunc(all, func(f Found) bool { return !ends(f) })
	rank := func(f Found) int {
		switch {
		case f.Path() == word && f.Entry == nil:
			return 0
		case f.Block == nil:
			return 1
		case f.Entry == nil:
			return 2
		case f.Path() == word && f.Entry.Block == "":
			return 0
		}
		return 3
	}
	slices.SortStableFunc(all, func(a, b Found) int { return cmp.Compare(rank(a), rank(b)) })
	all = slices.CompactFunc(all, func(a, b Found) bool { return a.Path() == b.Path() })
	for i := range all {
		if i == 0 || rank(all[i]) == rank(all[0]) {
			found = append(found, all[i])
		} else if all[i].Entry == nil || all[i].Entry.Block != found[0].Path() {
			others = append(others, all[i])
		}
	}
	return found, others
}

// Nearest is a hint with a path or word that is spelt like one that means nothing; empty if none is.
func Nearest(pages []Page, word string) string {
	var words []string
	add := func(w string) {
		if !slices.Contains(words, w) {
			words = append(words, w)
		}
	}
	for _, f := range everything(pages) {
		path := f.Path()
		add(path)
		add(path[strings.LastIndexByte(path, '.')+1:])
		if parts := strings.Split(path, "."); len(parts) > 2 {
			add(strings.Join(parts[len(parts)-2:], "."))
		}
	}
	if len(word) > 64 {
		return ""
	}
	return spelling.Hint(strings.ToLower(word), words)
}

func everything(pages []Page) (all []Found) {
	for i := range pages {
		p := &pages[i]
		all = append(all, Found{Page: p})
		for k := range p.Blocks {
			b := &p.Blocks[k]
			if b.Path != p.Name {
				all = append(all, Found{p, b, nil})
			}
			for e := range b.Entries {
				all = append(all, Found{p, b, &b.Entries[e]})
			}
		}
	}
	return all
}

// inside gives the blocks of a page that lie inside another.
func (p *Page) inside(path string) (list []*Block) {
	for i := range p.Blocks {
		if strings.HasPrefix(p.Blocks[i].Path, path+".") {
			list = append(list, &p.Blocks[i])
		}
	}
	return list
}
