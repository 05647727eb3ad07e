package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const root = "../.."

// room is one room of the drawing in DEVELOPERS.md.
type room struct {
	pure    bool
	imports []string // of ours: rooms, or whole wings with /... behind them
}

// pureStd is all of the standard library that a pure room may use.
var pureStd = strings.Fields("bytes cmp encoding/binary errors fmt hash/crc32 io iter maps math math/bits slices sort strconv strings unicode unicode/utf8")

// pureOthers are the other modules' packages that a pure room may use, by prefix.
var pureOthers = []string{"gonum.org/v1/gonum/num/quat", "gonum.org/v1/gonum/mathext"}

// largeOthers are packages that would bring gonum's BLAS and LAPACK into the program, a tenth of it, for a few lines.
var largeOthers = []string{"gonum.org/v1/gonum/mat", "gonum.org/v1/gonum/spatial/r3", "gonum.org/v1/gonum/stat"}

// TestHouse holds the imports of every room against the drawing in DEVELOPERS.md. To add a room or a
// stair, change the drawing first and say why there; don't change it to make a build pass.
func TestHouse(t *testing.T) {
	rooms := drawing(t)
	found := map[string]bool{}
	for _, f := range goFiles(t) {
		name := filepath.ToSlash(filepath.Dir(f))
		found[name] = true
		r, drawn := rooms[name]
		if !drawn {
			t.Errorf("%s: room %s is not in DEVELOPERS.md's drawing; draw it or move the file", f, name)
			continue
		}
		for _, imp := range imports(t, f) {
			if why := r.refuses(name, imp); why != "" {
				t.Errorf("%s imports %s: %s", f, imp, why)
			}
		}
	}
	for name := range rooms {
		if !found[name] {
			t.Errorf("DEVELOPERS.md draws room %s, but it has no Go file; build it or rub it out", name)
		}
	}
}

func (r room) refuses(name, imp string) string {
	own, ours := strings.CutPrefix(imp, "drystage/")
	switch {
	case slices.ContainsFunc(largeOthers, func(p string) bool { return imp == p || strings.HasPrefix(imp, p+"/") }):
		return "it makes the program a tenth larger; use drystage/sim/r3 for vectors, and write the few lines that are needed"
	case ours && own != name && !r.mayImport(own):
		return name + " may not know " + own + "; pass a noun of sim or harness instead, or draw the stair in DEVELOPERS.md"
	case ours || !r.pure:
		return ""
	case name == "sim/noise" && imp == "math/rand/v2", slices.Contains(pureStd, imp):
		return ""
	case slices.ContainsFunc(pureOthers, func(p string) bool { return strings.HasPrefix(imp, p) }):
		return ""
	}
	return name + " is pure; take the result as an argument and leave this package to the edge"
}

func (r room) mayImport(own string) bool {
	return slices.ContainsFunc(r.imports, func(may string) bool { return may == own || may == "any" })
}

// drawing reads the fenced block that starts with "```house" in DEVELOPERS.md. A wing is "NAME ROOM ... < WING ...",
// and goes on in the next line where that is indented. A room is "NAME", "NAME*" or "NAME*(ROOM ...)".
func drawing(t *testing.T) map[string]room {
	rooms := map[string]room{}
	wings := map[string][]string{} // the rooms of each wing drawn so far
	for _, line := range wingLines(t) {
		left, right, _ := strings.Cut(line, "<")
		wing, list, _ := strings.Cut(strings.TrimSpace(left), " ")
		var may []string
		for _, w := range strings.Fields(right) {
			_, single := rooms[w]
			if all, isWing := wings[w]; isWing {
				may = append(may, all...)
			} else if may = append(may, w); !single && w != "any" {
				t.Errorf("DEVELOPERS.md: %s imports %s, which is not drawn above it", wing, w)
			}
		}
		for _, m := range drawnRoom.FindAllStringSubmatch(list, -1) {
			r := room{pure: m[2] == "*", imports: slices.Clone(may)}
			for _, own := range strings.Fields(m[3]) {
				if own = path.Join(wing, own); !slices.Contains(wings[wing], own) {
					t.Errorf("DEVELOPERS.md: %s/%s imports %s, which does not stand before it", wing, m[1], own)
				}
				r.imports = append(r.imports, own)
			}
			name := path.Join(wing, m[1])
			rooms[name], wings[wing] = r, append(wings[wing], name)
		}
	}
	require.NotEmpty(t, rooms, "DEVELOPERS.md has no drawing")
	return rooms
}

var drawnRoom = regexp.MustCompile(`([a-z0-9./]+)(\*?)(?:\(([^)]*)\))?`)

// wingLines gives the drawing's lines, each whole.
func wingLines(t *testing.T) (lines []string) {
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	require.NoError(t, err)
	_, block, found := strings.Cut(string(text), "```house\n")
	require.True(t, found, "DEVELOPERS.md has no drawing")
	block, _, _ = strings.Cut(block, "```")
	for _, line := range strings.Split(strings.TrimSpace(block), "\n") {
		if n := len(lines); strings.HasPrefix(line, " ") && n > 0 {
			lines[n-1] += " " + line
		} else {
			lines = append(lines, line)
		}
	}
	return lines
}

// goFiles lists the non-test Go files of the product, relative to the root.
func goFiles(t *testing.T) []string {
	return slices.DeleteFunc(allGoFiles(t), func(name string) bool { return strings.HasSuffix(name, "_test.go") })
}

// allGoFiles lists all Go files, relative to the root.
func allGoFiles(t *testing.T) []string {
	var files []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") && path != root) {
			return fs.SkipDir
		}
		if strings.HasSuffix(path, ".go") {
			rel, err := filepath.Rel(root, path)
			files = append(files, rel)
			return err
		}
		return nil
	})
	require.NoError(t, err)
	return files
}

func imports(t *testing.T, file string) []string {
	f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, file), nil, parser.ImportsOnly)
	require.NoError(t, err)
	var out []string
	for _, i := range f.Imports {
		path, err := strconv.Unquote(i.Path.Value)
		require.NoError(t, err)
		out = append(out, path)
	}
	return out
}

// longest is the ratchet on function length in lines: it may only go down.
const longest = 70

// TestFunctionsFitOneHead refuses functions that have grown too long, and exported names without a
// word of documentation.
func TestFunctionsFitOneHead(t *testing.T) {
	for _, name := range goFiles(t) {
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, filepath.Join(root, name), nil, parser.ParseComments|parser.SkipObjectResolution)
		require.NoError(t, err)
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok {
				documented(t, fset, d)
				continue
			}
			from, to := fset.Position(fn.Pos()), fset.Position(fn.End())
			if n := to.Line - from.Line + 1; n > longest {
				t.Errorf("%s: %s has %d lines, at most %d; look for the second noun in it", from, fn.Name.Name, n, longest)
			}
			if fn.Name.IsExported() && fn.Doc == nil && exportedReceiver(fn) {
				t.Errorf("%s: exported %s has no comment", from, fn.Name.Name)
			}
		}
	}
}

func exportedReceiver(fn *ast.FuncDecl) bool {
	if fn.Recv == nil {
		return true
	}
	typ := fn.Recv.List[0].Type
	if star, ok := typ.(*ast.StarExpr); ok {
		typ = star.X
	}
	id, ok := typ.(*ast.Ident)
	return ok && id.IsExported()
}

// documented wants a comment on every exported type, and on every exported constant or variable or
// its group.
func documented(t *testing.T, fset *token.FileSet, d ast.Decl) {
	g, ok := d.(*ast.GenDecl)
	if !ok || g.Tok == token.IMPORT || g.Doc != nil {
		return
	}
	for _, s := range g.Specs {
		switch s := s.(type) {
		case *ast.TypeSpec:
			if s.Name.IsExported() && s.Doc == nil {
				t.Errorf("%s: exported %s has no comment", fset.Position(s.Pos()), s.Name)
			}
		case *ast.ValueSpec:
			if s.Names[0].IsExported() && s.Doc == nil {
				t.Errorf("%s: exported %s has no comment", fset.Position(s.Pos()), s.Names[0])
			}
		}
	}
}
