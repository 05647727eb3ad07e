package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestRaced holds the Makefile's list of rooms that are tested under the race detector against the code: a
// room that starts a goroutine or takes a lock, in its code or its tests, is on it.
func TestRaced(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "Makefile"))
	require.NoError(t, err)
	m := regexp.MustCompile(`(?m)^RACED = ((?:.*\\\n)*.*)$`).FindSubmatch(text)
	require.NotNil(t, m, "the Makefile has no RACED")
	raced := strings.Fields(strings.ReplaceAll(string(m[1]), "\\\n", " "))
	seen := map[string]bool{}
	for _, f := range allGoFiles(t) {
		dir := filepath.ToSlash(filepath.Dir(f))
		if dir == "firmware-contract" || seen[dir] || !concurrent(t, f) {
			continue
		}
		seen[dir] = true
		if !slices.ContainsFunc(raced, func(r string) bool {
			r = strings.TrimPrefix(r, "./")
			below, tree := strings.CutSuffix(r, "/...")
			return r == dir || tree && (dir == below || strings.HasPrefix(dir, below+"/"))
		}) {
			t.Errorf("%s starts a goroutine or takes a lock, and the Makefile's RACED lacks ./%s", f, dir)
		}
	}
	require.NotEmpty(t, seen)
}

// concurrent says that a file has a go statement, a call of a method Go, or the packages sync or sync/atomic.
func concurrent(t *testing.T, file string) (found bool) {
	f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, file), nil, parser.SkipObjectResolution)
	require.NoError(t, err)
	for _, i := range f.Imports {
		found = found || i.Path.Value == `"sync"` || i.Path.Value == `"sync/atomic"`
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			found = true
		case *ast.CallExpr:
			if s, ok := n.Fun.(*ast.SelectorExpr); ok && s.Sel.Name == "Go" {
				found = true
			}
		}
		return !found
	})
	return found
}
