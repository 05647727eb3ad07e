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
	listed(t, "RACED", "starts a goroutine or takes a lock", concurrent)
}

// TestWalled does the same for rooms whose tests go by the clock on the wall.
func TestWalled(t *testing.T) {
	listed(t, "WALLED", "has a test that goes by the clock on the wall", func(t *testing.T, file string) bool {
		text, err := os.ReadFile(filepath.Join(root, file))
		require.NoError(t, err)
		return strings.HasSuffix(file, "_test.go") && strings.Contains(string(text), "\nfunc TestWall")
	})
}

// listed wants the rooms of all files of some kind in a list of the Makefile. The firmware's side is tested without
// the race detector.
func listed(t *testing.T, list, what string, is func(t *testing.T, file string) bool) {
	text, err := os.ReadFile(filepath.Join(root, "Makefile"))
	require.NoError(t, err)
	m := regexp.MustCompile(`(?m)^` + list + ` = ((?:.*\\\n)*.*)$`).FindSubmatch(text)
	require.NotNil(t, m, "the Makefile has no %s", list)
	rooms := strings.Fields(strings.ReplaceAll(string(m[1]), "\\\n", " "))
	seen := map[string]bool{}
	for _, f := range allGoFiles(t) {
		dir := filepath.ToSlash(filepath.Dir(f))
		if list == "RACED" && dir == "firmware-contract" || seen[dir] || !is(t, f) {
			continue
		}
		seen[dir] = true
		if !slices.ContainsFunc(rooms, func(r string) bool {
			r = strings.TrimPrefix(r, "./")
			below, tree := strings.CutSuffix(r, "/...")
			return r == dir || tree && (dir == below || strings.HasPrefix(dir, below+"/"))
		}) {
			t.Errorf("%s %s, and the Makefile's %s lacks ./%s", f, what, list, dir)
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
