// Package mutants counts what a suite of flights notices of single-point mutants of a board: of its sources, which package
// source makes, and of a firmware's binary. It neither builds nor flies.
package mutants

import "fmt"

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
