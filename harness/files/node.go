package files

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"drystage/harness"
)

// node is a value in a file with its place.
type node struct {
	at    harness.Place
	kind  nodeKind
	text  string // of a scalar
	pairs []pair // of a mapping, in the order written
	items []*node
}

type nodeKind uint8

const (
	empty nodeKind = iota // nothing written
	scalar
	mapping
	list
	refused // already told
)

var nodeWords = [...]string{"nothing", "a value", "a mapping", "a list", "a value refused"}

// String says what stands there, for messages.
func (n *node) String() string {
	if n.kind == scalar {
		return quote(n.text)
	}
	return nodeWords[n.kind]
}

// pair is one key of a mapping with its value.
type pair struct {
	key   string
	at    harness.Place
	value *node
}

// get gives the value of a key; nil when the mapping has none.
func (n *node) get(key string) *node {
	for _, p := range n.pairs {
		if p.key == key {
			return p.value
		}
	}
	return nil
}

// deepest is how far values may nest. Our deepest file needs six levels.
const deepest = 20

// grower turns a parsed YAML tree into nodes and refuses what our files have no use for.
type grower struct {
	r    *reader
	file string
}

// parse reads the YAML text of a file; nil when it can't be read at all.
func (r *reader) parse(file string, text []byte) (n *node) {
	g := &grower{r, file}
	defer func() {
		if x := recover(); x != nil {
			r.found(harness.Place{File: file}, "YAML that can't be read", "YAML 1.2", fmt.Sprint(x))
			n = nil
		}
	}()
	tree, err := parser.ParseBytes(text, 0)
	if err != nil {
		g.syntax(err)
		return nil
	}
	switch {
	case len(tree.Docs) > 1 && tree.Docs[1].Body != nil:
		r.found(g.place(first(tree.Docs[1].Body)), "a second document", "one document a file", "put it in a file of its own")
		return nil
	case len(tree.Docs) == 0 || tree.Docs[0].Body == nil:
		r.found(harness.Place{File: file, Line: 1, Column: 1}, "an empty file", "`drystage: KIND` and the keys of that kind", "")
		return nil
	}
	return g.grow(tree.Docs[0].Body, 0)
}

func (g *grower) syntax(err error) {
	at, message := harness.Place{File: g.file}, err.Error()
	if e, ok := err.(yaml.Error); ok {
		message = e.GetMessage()
		if t := e.GetToken(); t != nil {
			at = g.place(t)
		}
	}
	message, _, _ = strings.Cut(message, "\n")
	g.r.found(at, "YAML that can't be read: "+message, "YAML 1.2", "")
}

func (g *grower) place(t *token.Token) harness.Place {
	if t == nil || t.Position == nil {
		return harness.Place{File: g.file}
	}
	return harness.Place{File: g.file, Line: t.Position.Line, Column: t.Position.Column}
}

// first is the token with which a value begins.
func first(a ast.Node) *token.Token {
	switch m := a.(type) {
	case *ast.MappingNode:
		if !m.IsFlowStyle && len(m.Values) > 0 {
			return m.Values[0].Key.GetToken()
		}
		return m.Start
	case *ast.MappingValueNode:
		return m.Key.GetToken()
	}
	return a.GetToken()
}

func (g *grower) grow(a ast.Node, depth int) *node {
	n := &node{at: g.place(first(a)), kind: refused}
	if depth > deepest {
		g.r.found(n.at, "values nested too deeply", fmt.Sprintf("at most %d levels", deepest), "")
		return n
	}
	switch a := a.(type) {
	case *ast.MappingNode:
		n.kind = mapping
		g.pairs(n, a.Values, depth)
	case *ast.MappingValueNode:
		n.kind = mapping
		g.pairs(n, []*ast.MappingValueNode{a}, depth)
	case *ast.SequenceNode:
		n.kind = list
		for _, v := range a.Values {
			n.items = append(n.items, g.grow(v, depth+1))
		}
	case *ast.NullNode:
		n.kind = empty
	case *ast.LiteralNode:
		n.kind, n.text = scalar, a.Value.Value
	case *ast.StringNode:
		n.kind, n.text = scalar, a.Value
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		n.kind, n.text = scalar, a.GetToken().Value
	case *ast.AnchorNode, *ast.AliasNode, *ast.MergeKeyNode:
		g.r.found(n.at, "a YAML anchor or alias", "a plain value", "write the value out; a scenario takes keys from another one with `like:`")
	case *ast.TagNode:
		g.r.found(n.at, "a YAML tag", "a plain value", "leave the tag away")
	default:
		g.r.found(n.at, "YAML of a kind that has no use here", "a plain value, a list or a mapping", "")
	}
	return n
}

func (g *grower) pairs(n *node, values []*ast.MappingValueNode, depth int) {
	for _, v := range values {
		at := g.place(v.Key.GetToken())
		key, plain := v.Key.(*ast.StringNode)
		word := v.Key.GetToken().Value
		if plain {
			word = key.Value
		}
		if v.Key.IsMergeKey() {
			g.r.found(at, "a YAML merge key", "a plain key", "write the keys out; a scenario takes keys from another one with `like:`")
			continue
		}
		if n.get(word) != nil {
			g.r.found(at, "the key "+quote(word)+" a second time", "each key once", "")
			continue
		}
		value := g.grow(v.Value, depth+1)
		if value.kind == empty && value.at.Line == 0 {
			value.at = at
		}
		n.pairs = append(n.pairs, pair{word, at, value})
	}
}
