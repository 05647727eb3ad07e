package source

import (
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"path/filepath"
	"slices"
	"strings"
)

// GoScope says what of a Go package is mutated.
type GoScope struct {
	Files []string // base names
	Leave []string // functions that stay as they are
	Tells []string // functions that only tell something, as a text for people; calls of them stay
	// Switch is the type of constants that select a known defect of the board; what tests them stays as it is, and
	// so do assignments to Fields, which only defects use.
	Switch string
	Fields []string
}

// OfGo mutates a package. export opens the compiler's export data of an imported package.
func OfGo(path string, files []Source, scope GoScope, export func(path string) (io.ReadCloser, error)) (*Schemata, error) {
	fset := token.NewFileSet()
	var parsed []*ast.File
	for _, f := range files {
		x, err := parser.ParseFile(fset, f.Name, f.Text, parser.SkipObjectResolution)
		if err != nil {
			return nil, fmt.Errorf("mutants: %w", err)
		}
		parsed = append(parsed, x)
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}}
	conf := types.Config{Importer: importer.ForCompiler(fset, "gc", export)}
	pkg, err := conf.Check(path, fset, parsed, info)
	if err != nil {
		return nil, fmt.Errorf("mutants: %w", err)
	}
	calm := goPure(parsed, info)
	out := &Schemata{}
	var name string
	for i, f := range files {
		base := filepath.Base(f.Name)
		name = parsed[i].Name.Name
		g := &goSites{scope: scope, info: info, pkg: pkg, at: fset.File(parsed[i].FileStart), text: f.Text, calm: calm}
		if slices.Contains(scope.Files, base) {
			g.file(parsed[i])
			out.add(f.Name, base, f.Text, g.sites, wrapGo)
		}
	}
	out.Sources = append(out.Sources, Source{filepath.Join(filepath.Dir(files[0].Name), "mutant_switch.go"), goSwitch(name, len(out.Mutants))})
	return out, nil
}

// goSwitch is the file that selects a mutant and notes which have been reached.
func goSwitch(pkg string, mutants int) string {
	return fmt.Sprintf(`package %s

var (
	mutantOn      int
	mutantNoted [%d]bool
)

func mutantAt() int { return mutantOn }

func mutantDiffers(n int, does bool) { mutantNoted[n] = mutantNoted[n] || does }

// SelectMutant switches a mutant on, 0 for none, and forgets what has been noted. With -1 the original runs, and notes
// which mutants would have had another value than it, or done something else.
func SelectMutant(n int) {
	mutantOn = n
	clear(mutantNoted[:])
}

// NotedMutants gives the numbers of the mutants that have been noted.
func NotedMutants() (out []int) {
	for n, is := range mutantNoted {
		if is {
			out = append(out, n)
		}
	}
	return out
}
`, pkg, mutants+1)
}

// wrapGo writes a statement as a switch, and an expression as a function that is called at once. With mutant -1 each tries
// its alternatives beside the original, if that changes nothing else; if it does, each alternative counts as different.
func wrapGo(b *strings.Builder, s *site, original string, first int) {
	if s.typ != "" {
		fmt.Fprintf(b, "func() %s { mutantNow := mutantAt(); switch mutantNow {", s.typ)
		for i, a := range s.alternatives {
			fmt.Fprintf(b, "\ncase %d: return %s", first+i, a.text)
		}
		fmt.Fprintf(b, "\n}; var mutantWas %s = %s; if mutantNow < 0 {", s.typ, original)
		for i, a := range s.alternatives {
			if s.pure {
				fmt.Fprintf(b, "\n{ var mutantIs %s = %s; mutantDiffers(%d, mutantIs != mutantWas) }", s.typ, a.text, first+i)
			} else {
				fmt.Fprintf(b, "\nmutantDiffers(%d, true)", first+i)
			}
		}
		fmt.Fprint(b, "\n}; return mutantWas }()")
		return
	}
	fmt.Fprint(b, "switch mutantAt() {")
	for i, a := range s.alternatives {
		fmt.Fprintf(b, "\ncase %d: %s", first+i, a.text)
	}
	switch {
	case s.pure && s.to != "":
		fmt.Fprintf(b, "\ncase -1: mutantWas := %s; %s; mutantIs := %s", s.to, original, s.to)
		for i, a := range s.alternatives {
			fmt.Fprintf(b, "\n%s = mutantWas; %s; mutantDiffers(%d, %s != mutantIs)", s.to, a.text, first+i, s.to)
		}
		fmt.Fprintf(b, "\n%s = mutantIs", s.to)
		fmt.Fprintf(b, "\ndefault: %s\n}", original)
	default:
		fmt.Fprint(b, "\ncase -1:")
		for i := range s.alternatives {
			fmt.Fprintf(b, " mutantDiffers(%d, true);", first+i)
		}
		fmt.Fprintf(b, " fallthrough\ndefault: %s\n}", original)
	}
}
