package scenario

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"drystage/harness"
	"drystage/harness/spelling"
)

// node is one value of a file with its place, before it is read by a table of keys.
type node struct {
	at    harness.Place
	kind  nodeKind
	text  string  // of a scalar
	keys  []*node // of a mapping, each a scalar
	items []*node // of a list, or the values of a mapping's keys
}

type nodeKind uint8

const (
	empty nodeKind = iota // a key without a value, or null
	scalar
	list
	mapping
)

// value gives the value of a mapping's key, or nil.
func (n *node) value(key string) *node {
	for i, k := range n.keys {
		if k.text == key {
			return n.items[i]
		}
	}
	return nil
}

// found says what stands there, for a Problem.
func (n *node) found() string {
	switch n.kind {
	case scalar:
		return quote(n.text)
	case list:
		return fmt.Sprintf("a list of %d", len(n.items))
	case mapping:
		return "a block of keys"
	}
	return "no value"
}

// quote shortens a text and makes it safe to print.
func quote(s string) string {
	const most = 60
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most]) + "..."
	}
	return strconv.Quote(s)
}

// choices joins words for a Problem: "a, b or c".
func choices(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// nearest is a hint with the known word that is spelt most like s; empty when none is close.
func nearest(s string, known []string) string {
	if len(s) > 64 { // far too long to be near
		return ""
	}
	return spelling.Hint(strings.ToLower(s), known)
}
