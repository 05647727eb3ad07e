package source

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
)

// CScope says what of a C program is mutated.
type CScope struct {
	Leave []string // functions that stay as they are
	Tells []string // functions that only tell something, as a text for people; calls of them stay
	Told  []string // members that only serve what is told; assignments to them stay
	Own   string   // prefix of macros that are the contract's own numbers
}

// OfC mutates the files of a C program. tree gives clang's syntax tree of a file, as -Xclang -ast-dump=json writes it.
func OfC(files []Source, scope CScope, tree func(name string) ([]byte, error)) (*Schemata, error) {
	out := &Schemata{}
	trees := make([]cNode, len(files))
	for i, f := range files {
		text, err := tree(f.Name)
		if err != nil {
			return nil, err
		}
		if err := json.Unmarshal(text, &trees[i]); err != nil {
			return nil, fmt.Errorf("mutants: the syntax tree of %s: %w", f.Name, err)
		}
	}
	calm := cPure(trees)
	for i, f := range files {
		c := &cSites{scope: scope, text: f.Text, calm: calm}
		c.file(&trees[i])
		out.add(f.Name, filepath.Base(f.Name), f.Text, c.sites, wrapC)
	}
	return out, nil
}

// CSwitch is a header that every mutated file includes first. One C file defines its two variables. Mutant -1 is that of
// the Go sources: it notes which others would do something else.
func (s *Schemata) CSwitch() string {
	return fmt.Sprintf(`#ifndef MUTANT_SWITCH_H
#define MUTANT_SWITCH_H
#include <stdint.h>
#define MUTANTS %d
extern int mutant_on;
extern unsigned char mutant_noted[MUTANTS + 1];
static inline void mutant_differs(int n, int does)
{
    if (does) { mutant_noted[n] = 1; }
}
#endif
`, len(s.Mutants))
}

// wrapC writes a statement as a chain of ifs, and an expression as one in parentheses, as GCC and Clang know them.
func wrapC(b *strings.Builder, s *site, original string, first int) {
	if s.typ != "" {
		fmt.Fprintf(b, "({ %s mutant_was; ", s.typ)
		for i, a := range s.alternatives {
			fmt.Fprintf(b, "if (mutant_on == %d) { mutant_was = %s; } else ", first+i, a.text)
		}
		fmt.Fprintf(b, "{ mutant_was = %s; if (mutant_on < 0) {", original)
		for i, a := range s.alternatives {
			if s.pure {
				fmt.Fprintf(b, " { %s mutant_is = %s; mutant_differs(%d, mutant_is != mutant_was); }", s.typ, a.text, first+i)
			} else {
				fmt.Fprintf(b, " mutant_differs(%d, 1);", first+i)
			}
		}
		fmt.Fprint(b, " } } mutant_was; })")
		return
	}
	b.WriteString("{ ")
	for i, a := range s.alternatives {
		fmt.Fprintf(b, "if (mutant_on == %d) { %s; } else ", first+i, a.text)
	}
	if s.pure && s.to != "" {
		fmt.Fprintf(b, "if (mutant_on < 0) { __typeof__(%s) mutant_was = %s, mutant_is; %s mutant_is = %s;", s.to, s.to, original, s.to)
		for i, a := range s.alternatives {
			fmt.Fprintf(b, " %s = mutant_was; %s; mutant_differs(%d, %s != mutant_is);", s.to, a.text, first+i, s.to)
		}
		fmt.Fprintf(b, " %s = mutant_is; } else { %s } }", s.to, original)
		return
	}
	b.WriteString("{ if (mutant_on < 0) {")
	for i := range s.alternatives {
		fmt.Fprintf(b, " mutant_differs(%d, 1);", first+i)
	}
	fmt.Fprintf(b, " } %s } }", original)
}

// cNode is a node of clang's syntax tree.
type cNode struct {
	Kind, Name, Opcode string
	Value              any // a number's is a text
	Loc                cLoc
	Range              struct{ Begin, End cLoc }
	Type               struct{ QualType string }
	Inner              []cNode
	ReferencedDecl     struct{ Name string }
}

// cLoc is a place in a file. In a macro it is where the macro is used, and where its text stands.
type cLoc struct {
	Offset, TokLen int
	IncludedFrom   *struct{ File string }
	ExpansionLoc   *cLoc
}

func (l *cLoc) used() *cLoc {
	if l.ExpansionLoc != nil {
		return l.ExpansionLoc
	}
	return l
}

// bare gives a node without the parentheses and conversions around it.
func (n *cNode) bare() *cNode {
	for (n.Kind == "ImplicitCastExpr" || n.Kind == "ParenExpr" || n.Kind == "ConstantExpr") && len(n.Inner) == 1 {
		n = &n.Inner[0]
	}
	return n
}

// macro says that a whole expression comes from one macro.
func (n *cNode) macro() bool {
	b, e := n.Range.Begin.ExpansionLoc, n.Range.End.ExpansionLoc
	return b != nil && e != nil && b.Offset == e.Offset
}

func (n *cNode) is(kinds ...string) bool { return slices.Contains(kinds, n.Kind) }

// calls gives the name of the function that a call calls.
func (n *cNode) calls() string {
	if n.Kind != "CallExpr" || len(n.Inner) == 0 {
		return ""
	}
	name := ""
	for x := &n.Inner[0]; ; x = &x.Inner[0] {
		if x.ReferencedDecl.Name != "" {
			name = x.ReferencedDecl.Name
		}
		if len(x.Inner) == 0 {
			return name
		}
	}
}
