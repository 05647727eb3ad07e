// Package mutants makes single-point mutants of the decision logic of a board, in Go and in C, to measure how much a
// suite of flights notices. It takes sources and gives sources with all mutants in them, switched by a number, so that
// a mutant costs a flight and not a build (mutant schemata: R. Untch, A. J. Offutt, M. J. Harrold, Mutation Analysis
// Using Mutant Schemata, ISSTA 1993). It neither builds nor flies.
package mutants

import (
	"fmt"
	"strings"
)

// Kind is a kind of mutation.
type Kind string

// The kinds of mutation, each a usual slip of a firmware's author.
const (
	Negated  Kind = "condition negated"
	LeftOut  Kind = "check left out"     // one part of a condition, or the whole, as if it had never been written
	Shifted  Kind = "comparison shifted" // < to <=, > to >=, and back
	Halved   Kind = "constant halved"
	Doubled  Kind = "constant doubled"
	Dropped  Kind = "statement dropped"
	Swapped  Kind = "axis swapped"
	Turned   Kind = "sign turned"
	Narrowed Kind = "counter narrowed" // a count in 8 bits, a time in 16 bits of ms, a height or speed in 16 bits of cm
)

// Kinds lists the kinds of mutation.
func Kinds() []Kind {
	return []Kind{Negated, LeftOut, Shifted, Halved, Doubled, Dropped, Swapped, Turned, Narrowed}
}

// Mutant is one change of one place. Number selects it in the built sources; 0 is the original.
type Mutant struct {
	Number int
	Place  int    // that of the first mutant of the same place
	File   string // its base name
	Line   int
	Func   string
	Kind   Kind
	Was    string
	Is     string // empty: nothing stands there any more
}

// String gives place, kind and change in one line.
func (m *Mutant) String() string {
	is := m.Is
	if is == "" {
		is = "(nothing)"
	}
	return fmt.Sprintf("%s:%d %s, %s: %s -> %s", m.File, m.Line, m.Func, m.Kind, m.Was, is)
}

// alternative is what may stand in a site's place.
type alternative struct {
	kind Kind
	text string
}

// site is a place in a source with its alternatives. Sites nest.
type site struct {
	from, to     int // bytes of the source
	line         int
	function     string
	typ          string // of an expression; empty: a statement
	alternatives []alternative
}

// oneLine gives source text without line ends.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
