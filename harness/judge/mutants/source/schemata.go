// Package source makes single-point mutants of the decision logic of a board, in Go and in C, to measure how much a
// suite of flights notices. It takes sources and gives sources with all mutants in them, switched by a number, so that
// a mutant costs a flight and not a build (mutant schemata: R. Untch, A. J. Offutt, M. J. Harrold, Mutation Analysis
// Using Mutant Schemata, ISSTA 1993). It neither builds nor flies.
package source

import (
	"drystage/harness/judge/mutants"
	"slices"
	"strings"
)

// Source is one source file.
type Source struct {
	Name string // its path
	Text string
}

// Schemata is sources with all their mutants in them.
type Schemata struct {
	Sources []Source
	Mutants []mutants.Mutant // with the numbers from 1
}

// add renders a source with its sites and numbers their alternatives.
func (s *Schemata) add(name, base, text string, sites []site, wrap wrapper) {
	slices.SortStableFunc(sites, func(a, b site) int {
		if a.from != b.from {
			return a.from - b.from
		}
		return b.end - a.end
	})
	r := renderer{all: s, base: base, text: text, sites: sites, wrap: wrap}
	s.Sources = append(s.Sources, Source{name, r.span(0, len(text))})
}

// wrapper writes a site in a language: its original, its alternatives, and the number of the first of them.
type wrapper func(b *strings.Builder, s *site, original string, first int)

type renderer struct {
	all        *Schemata
	base, text string
	sites      []site // still to be written, in order
	wrap       wrapper
}

// span writes the text between two places, with the sites that begin there.
func (r *renderer) span(from, to int) string {
	var b strings.Builder
	for len(r.sites) > 0 && r.sites[0].from < to {
		s := r.sites[0]
		r.sites = r.sites[1:]
		b.WriteString(r.text[from:s.from])
		first := len(r.all.Mutants) + 1
		was := oneLine(r.text[s.from:s.end])
		for i, a := range s.alternatives {
			r.all.Mutants = append(r.all.Mutants, mutants.Mutant{Number: first + i, File: r.base, Line: s.line, Func: s.function, Kind: a.kind, Was: was, Is: oneLine(a.text)})
		}
		r.wrap(&b, &s, r.span(s.from, s.end), first)
		from = s.end
	}
	b.WriteString(r.text[from:to])
	return b.String()
}

// alternative is what may stand in a site's place.
type alternative struct {
	kind mutants.Kind
	text string
}

// site is a place in a source with its alternatives. Sites nest.
type site struct {
	from, end    int // bytes of the source
	line         int
	function     string
	typ          string // of an expression; empty: a statement
	pure         bool   // it changes nothing but, if it is a statement, what to is: so its alternatives can be tried beside it
	to           string // what a statement assigns to
	alternatives []alternative
}

// oneLine gives source text without line ends.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
