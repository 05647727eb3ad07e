package scenario

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
	"drystage/sim/r3"
)

// allTables gives every table that a kind of file reaches.
func allTables() (list []*table) {
	seen := map[*table]bool{}
	var add func(s shape)
	add = func(s shape) {
		switch s := s.(type) {
		case listShape:
			add(s.of)
		case namedBlocks:
			add(s.of)
		case *variants:
			for _, t := range s.tables {
				add(t)
			}
		case *table:
			if seen[s] {
				return
			}
			seen[s] = true
			list = append(list, s)
			for _, r := range s.rows {
				add(r.is)
			}
		}
	}
	for _, k := range kinds {
		add(k.of)
	}
	return list
}

// fits says why a value of a shape can't be put into a field; empty when it can.
func fits(s shape, to any) string {
	ok := false
	switch to := to.(type) {
	case nil, func(value):
		return ""
	case *float64:
		switch s := s.(type) {
		case quantityShape:
			ok = true
		case number:
			ok = !s.whole
		}
	case *int:
		n, is := s.(number)
		ok = is && n.whole
	case *uint64:
		_, ok = s.(seed)
	case *sim.Time:
		q, is := s.(quantityShape)
		ok = is && q.dim == quantity.Time
	case *string:
		switch s.(type) {
		case name, textLine, words, pinWord, boardAddress, instant, ownPath:
			ok = true
		}
	case *bool:
		_, ok = s.(flag)
	case *r3.Vec:
		_, ok = s.(vector)
	case *[3]r3.Vec:
		switch s.(type) {
		case mounting, matrix:
			ok = true
		}
	case *[]string:
		m, is := s.(listShape)
		_, ofWords := m.of.(words)
		_, ofPaths := m.of.(ownPath)
		ok = is && (ofWords || ofPaths)
	default:
		t, is := s.(*table)
		ok = is && t.bound != nil && !panics(func() { t.bound(to) })
	}
	if !ok {
		return fmt.Sprintf("a %T does not go into a %T", s, to)
	}
	return ""
}

func panics(f func()) (did bool) {
	defer func() { did = recover() != nil }()
	f()
	return false
}

// A wrong pointer in a row would panic only when somebody writes that key.
func TestEachRowGoesToAFieldOfItsOwnThatTakesIt(t *testing.T) {
	rows := 0
	for _, table := range allTables() {
		at := map[any]string{}
		for _, r := range table.rows {
			assert.Empty(t, fits(r.is, r.to), "%s, %s", table.name, r.key)
			if _, is := r.to.(func(value)); is || r.to == nil {
				continue
			}
			assert.Empty(t, at[r.to], "%s: %s and %s go to one field", table.name, r.key, at[r.to])
			at[r.to] = r.key
			rows++
		}
	}
	assert.Greater(t, rows, 130, "most rows are bound")
}

// Code that asks for a key that no table has would be given nothing, for ever.
func TestEachKeyThatCodeAsksForIsARow(t *testing.T) {
	keys := map[string]bool{}
	for _, table := range allTables() {
		for _, r := range table.rows {
			keys[r.key] = true
		}
	}
	entries, err := os.ReadDir(".")
	require.NoError(t, err)
	asked := 0
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".go") || strings.HasSuffix(e.Name(), "_test.go") {
			continue
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, e.Name(), nil, 0)
		require.NoError(t, err)
		ast.Inspect(f, func(n ast.Node) bool {
			call, is := n.(*ast.CallExpr)
			if !is || len(call.Args) != 1 {
				return true
			}
			fun, isMethod := call.Fun.(*ast.SelectorExpr)
			lit, isText := call.Args[0].(*ast.BasicLit)
			if isMethod && isText && fun.Sel.Name == "get" {
				key, _ := strconv.Unquote(lit.Value)
				assert.True(t, keys[key], "%s: no table has the key %q", set.Position(lit.Pos()), key)
				asked++
			}
			return true
		})
	}
	assert.Greater(t, asked, 100)
}

// Every key takes both ends of its range as they are written, and nothing beyond them.
func TestEachRangeTakesItsEndsAndNothingBeyond(t *testing.T) {
	ranges := 0
	for _, table := range allTables() {
		for _, r := range table.rows {
			dim, low, high, ok := rangeIn(r.is)
			if !ok {
				continue
			}
			ranges++
			step := func(x float64) float64 { return max(1e-9*math.Abs(x), math.SmallestNonzeroFloat64) }
			if n, is := r.is.(number); is && n.whole {
				step = func(float64) float64 { return 1 }
			}
			for _, row := range []struct {
				x    float64
				good bool
			}{{low, true}, {high, true}, {low - step(low), false}, {high + step(high), false}} {
				l := &loader{}
				got := r.is.read(l, &node{kind: scalar, text: quantity.Text(row.x, dim)})
				if row.good {
					assert.Equal(t, row.x, got, "%s, %s: %v", table.name, r.key, l.problems)
				} else {
					assert.Nil(t, got, "%s, %s: %s", table.name, r.key, quantity.Text(row.x, dim))
					assert.Len(t, l.problems, 1, "%s, %s", table.name, r.key)
				}
			}
		}
	}
	assert.Greater(t, ranges, 150)
}

func rangeIn(s shape) (dim quantity.Dimension, low, high float64, ok bool) {
	switch s := s.(type) {
	case quantityShape:
		return s.dim, s.min, s.max, true
	case number:
		return quantity.Number, s.min, s.max, true
	}
	return dim, 0, 0, false
}

// Defaults are read as if they stood in the file, so a default that its own key refuses would be told of files that
// are right.
func TestEachDefaultIsTakenByItsKey(t *testing.T) {
	defaults := 0
	for _, table := range allTables() {
		for _, r := range table.rows {
			if r.def == "" {
				continue
			}
			defaults++
			l := &loader{}
			assert.NotNil(t, r.is.read(l, r.defaultNode(harness.Place{})), "%s, %s: %s", table.name, r.key, r.def)
			assert.Empty(t, l.problems, "%s, %s", table.name, r.key)
			assert.False(t, r.need, "%s, %s: a key with a default is never missing", table.name, r.key)
		}
	}
	assert.Greater(t, defaults, 40)
}

// A fault that comes again lasts for a while, or is over when it has come; it must not ask for a key that it hasn't.
func TestWhatRepeatsCanBeWritten(t *testing.T) {
	n := 0
	for i, table := range faultShape.tables {
		has := func(key string) bool {
			return slices.ContainsFunc(table.rows, func(r row) bool { return r.key == key })
		}
		if has("repeat") {
			n++
			assert.Equal(t, !has("for"), atOnce(sim.FaultKind(i+1)), table.name)
		}
	}
	assert.Greater(t, n, 20)
}
