package scenario

import (
	"errors"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"drystage/harness"
)

// maxDepth is how deep lists and blocks may nest. Our own files nest six deep.
const maxDepth = 16

// maxTokens bounds the work on a hostile file. A scenario with a hundred expectations has some 3000.
const maxTokens = 30000

// parseYAML turns text into nodes. It takes plain YAML only: no anchors, aliases, tags or second
// documents, so that what a reader sees is what there is. It reports and gives nil when it can't.
func (l *loader) parseYAML(name, text string) *node {
	docs, ok := l.documents(name, text, true)
	switch {
	case !ok:
		return nil
	case len(docs) == 0 || docs[0].Body == nil:
		l.report(harness.Problem{Place: harness.Place{File: name, Line: 1, Column: 1}, Found: "an empty file", Wanted: "`drystage: KIND` as the first key", Hint: "KIND is " + choices(yamlKinds())})
		return nil
	}
	return l.convert(name, docs[0].Body, 0)
}

// documents parses text. ok is false when it can't, which was reported; with plain it takes no more than our
// own files may use.
func (l *loader) documents(name, text string, plain bool) (docs []*ast.DocumentNode, ok bool) {
	defer func() {
		if r := recover(); r != nil {
			l.report(harness.Problem{Place: harness.Place{File: name}, Found: "text that the YAML reader breaks on", Wanted: "YAML", Hint: fmt.Sprint(r)})
			docs, ok = nil, false
		}
	}()
	tokens := lexer.Tokenize(text)
	if !l.withinLimits(name, tokens) || plain && !l.isPlain(name, tokens) {
		return nil, false
	}
	file, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		l.report(syntaxProblem(name, err))
		return nil, false
	}
	return file.Docs, true
}

// refused holds the parts of YAML that files must not use, and what to do instead.
var refused = map[token.Type][2]string{
	token.AnchorType:      {"an anchor (&)", "write the value out where it is needed"},
	token.AliasType:       {"an alias (*)", "write the value out; a scenario takes keys from another one with `like:`"},
	token.TagType:         {"a tag (!)", "drop it; text needs no tag, and quotes keep ! as text"},
	token.MergeKeyType:    {"a merge key (<<)", "write the keys out; a scenario takes keys from another one with `like:`"},
	token.DirectiveType:   {"a directive (%)", "drop it; files are YAML 1.2"},
	token.MappingKeyType:  {"a complex key (?)", "write `key: value`"},
	token.DocumentEndType: {"an end of document (...)", "put each document into a file of its own"},
}

// withinLimits reports text with too many tokens or too deep nesting for the parser, whose stack it would exhaust.
func (l *loader) withinLimits(name string, tokens token.Tokens) bool {
	if len(tokens) > maxTokens {
		l.report(harness.Problem{Place: place(name, tokens[maxTokens]), Found: fmt.Sprintf("a file of more than %d words and marks", maxTokens), Wanted: "a smaller one"})
		return false
	}
	depth, entries, line := 0, 0, 0
	for _, t := range tokens {
		if t.Position.Line != line {
			line, entries = t.Position.Line, 0
		}
		switch t.Type {
		case token.MappingStartType, token.SequenceStartType:
			depth++
		case token.MappingEndType, token.SequenceEndType:
			depth--
		case token.SequenceEntryType:
			entries++
		}
		if at := place(name, t); depth+entries > maxDepth || at.Column > 40*maxDepth && entries > 0 {
			l.report(tooDeep(at))
			return false
		}
	}
	return true
}

// isPlain reports parts of YAML that our files must not use.
func (l *loader) isPlain(name string, tokens token.Tokens) bool {
	content := false
	for _, t := range tokens {
		bad, is := refused[t.Type]
		if t.Type == token.DocumentHeaderType && content {
			bad, is = [2]string{"a second document (---)", "put each document into a file of its own"}, true
		}
		if is {
			l.report(harness.Problem{Place: place(name, t), Found: bad[0], Wanted: "plain YAML", Hint: bad[1]})
			return false
		}
		content = content || t.Type != token.CommentType
	}
	return true
}

func tooDeep(at harness.Place) harness.Problem {
	return harness.Problem{Place: at, Found: "lists or blocks more than " + fmt.Sprint(maxDepth) + " deep", Wanted: "a file of the described form", Hint: "`drystage schema KIND` prints it"}
}

func place(name string, t *token.Token) harness.Place {
	return harness.Place{File: name, Line: max(1, t.Position.Line), Column: max(1, t.Position.Column)}
}

// syntaxProblem puts the parser's own error into our words, with its place.
func syntaxProblem(name string, err error) harness.Problem {
	p := harness.Problem{Place: harness.Place{File: name}, Found: "broken YAML", Wanted: "`key: value` lines, indented by spaces"}
	var e *yaml.SyntaxError
	if !errors.As(err, &e) || e.Token == nil {
		p.Hint, _, _ = strings.Cut(err.Error(), "\n")
		return p
	}
	p.Hint = e.Message // err.Error() would print the source, in a time that grows with its square
	p.Place = place(name, e.Token)
	switch {
	case strings.HasPrefix(e.Token.Value, "\t") || strings.Contains(e.Message, "'\t'"):
		p.Found, p.Hint = "a tab", "indent with spaces"
	case strings.Contains(e.Message, "mapping value is not allowed"):
		p.Found, p.Hint = quote(e.Token.Value)+" in a place where no key can stand", "check the indentation, and quote text that holds \": \""
	case e.Token.Value != "":
		p.Found = "broken YAML at " + quote(e.Token.Value)
	}
	return p
}

// convert turns the parser's tree into ours.
func (l *loader) convert(name string, n ast.Node, depth int) *node {
	if n == nil {
		return &node{at: harness.Place{File: name}}
	}
	out := &node{at: place(name, n.GetToken())}
	if depth > maxDepth {
		l.report(tooDeep(out.at))
		return out
	}
	switch n := n.(type) {
	case *ast.MappingNode:
		out.kind = mapping
		for _, v := range n.Values {
			l.convertKey(name, out, v, depth)
		}
		if len(out.keys) > 0 && n.GetToken().Type != token.MappingStartType {
			out.at = out.keys[0].at
		}
	case *ast.MappingValueNode:
		out.kind = mapping
		l.convertKey(name, out, n, depth)
		out.at = out.keys[0].at
	case *ast.SequenceNode:
		out.kind = list
		for _, v := range n.Values {
			out.items = append(out.items, l.convert(name, v, depth+1))
		}
	case *ast.LiteralNode:
		out.kind, out.text = scalar, n.Value.Value
	case *ast.StringNode:
		out.kind, out.text = scalar, n.Value
	case *ast.NullNode:
		// A key without a value.
	case ast.ScalarNode:
		out.kind, out.text = scalar, n.GetToken().Value
	default:
		l.report(harness.Problem{Place: out.at, Found: "a " + strings.ToLower(n.Type().String()), Wanted: "plain YAML"})
	}
	return out
}

// convertKey adds one key and its value to a mapping. A key that stands there twice counts once.
func (l *loader) convertKey(name string, out *node, v *ast.MappingValueNode, depth int) {
	t := v.Key.GetToken()
	key := &node{at: place(name, t), kind: scalar, text: t.Value}
	for _, k := range out.keys {
		if k.text == key.text {
			l.report(harness.Problem{Place: key.at, Found: fmt.Sprintf("key %s again", quote(key.text)), Wanted: "each key once", Hint: fmt.Sprintf("the first is on line %d", k.at.Line)})
			return
		}
	}
	value := l.convert(name, v.Value, depth+1)
	if value.kind == empty {
		value.at = key.at
	}
	out.keys, out.items = append(out.keys, key), append(out.items, value)
}
