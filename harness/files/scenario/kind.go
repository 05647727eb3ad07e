package scenario

import (
	"io/fs"
	"path"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"drystage/harness"
	"drystage/harness/spelling"
)

// The kinds of file that Kind tells of beside those of Schema.
const (
	Foreign = ""        // not one of ours
	Mapping = "mapping" // what the columns of a log mean; the package logs reads it
)

// kindKey is the key that tells the kind of a YAML file.
const kindKey = "drystage"

// IsYAML says that a file's name is one of YAML.
func IsYAML(name string) bool {
	ext := strings.ToLower(path.Ext(name))
	return ext == ".yaml" || ext == ".yml"
}

// IsTable says that a file's name is one of a table, as motors are.
func IsTable(name string) bool { return isMotor(name) }

// Kind tells what a file is, by the parser that loads it: vehicle, motor, board, scenario, rig, settings, project or Mapping. A
// file that is well formed and does not claim to be ours is Foreign. Problems say that nobody can tell: it
// can't be read, is broken, or claims to be ours in a way that loading refuses.
func Kind(fsys fs.FS, name string) (string, []harness.Problem) {
	l := &loader{fsys: fsys}
	name = path.Clean(name)
	if isMotor(name) {
		return l.tableKind(name), l.sorted()
	}
	f := l.readText(name, harness.Place{})
	if !f.good {
		return Foreign, l.sorted()
	}
	ours := l.isOurs(name, f.text)
	if len(l.problems) > 0 || !ours {
		return Foreign, l.sorted()
	}
	f.root = l.parseYAML(name, f.text)
	n := l.ofKind(f, knownKinds()...)
	if n == nil || len(l.problems) > 0 {
		return Foreign, l.sorted()
	}
	return n.items[0].text, nil
}

// isOurs says that a YAML text holds one of our files: a document of it has our key among its own, or begins
// with a word near our key and a kind, which must be meant. It reports text that is no YAML at all.
func (l *loader) isOurs(name, text string) bool {
	docs, ok := l.documents(name, text, false)
	if !ok {
		return false
	}
	for _, d := range docs {
		entries := topEntries(d.Body)
		for i, e := range entries {
			key := e.Key.GetToken().Value
			if k, is := e.Key.(*ast.MappingKeyNode); is && k.Value != nil {
				key = k.Value.GetToken().Value
			}
			near := i == 0 && spelling.Nearest(strings.ToLower(key), []string{kindKey}) != "" && e.Value != nil
			if key == kindKey || near && slices.Contains(knownKinds(), e.Value.GetToken().Value) {
				return true
			}
		}
	}
	return len(docs) == 0 || len(docs) == 1 && docs[0].Body == nil // empty: it may have been ours
}

// knownKinds are the words that our key may have.
func knownKinds() []string { return append(yamlKinds(), Mapping) }

// topEntries gives the keys and values of a document that is a mapping.
func topEntries(n ast.Node) []*ast.MappingValueNode {
	switch n := n.(type) {
	case *ast.AnchorNode:
		return topEntries(n.Value)
	case *ast.TagNode:
		return topEntries(n.Value)
	case *ast.MappingNode:
		return n.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}
	}
	return nil
}

// tableKind tells whether a table is a motor's file: by the header above a thrust curve, or by two keys of a
// motor's in the comment lines at its top. One that is too large for a motor, or not text, is none.
func (l *loader) tableKind(name string) string {
	if _, err := contentOf(l.fsys, name); err == errTooLarge {
		return Foreign
	}
	f := l.readText(name, harness.Place{})
	if !f.good {
		if f.content != nil { // it was read, and is no text
			l.problems = nil
		}
		return Foreign
	}
	keys := 0
	for line := range strings.Lines(f.text) {
		comment, is := strings.CutPrefix(line, "#")
		if !is && strings.TrimSpace(line) != "" {
			got := strings.ReplaceAll(strings.TrimSpace(line), " ", "")
			if keys > 1 || got == curveHeader || nearest(got, []string{curveHeader}) != "" {
				return "motor"
			}
			return Foreign
		}
		key, _, keyed := strings.Cut(comment, ":")
		if keyed && slices.Contains(motorTable.keys(), strings.TrimSpace(key)) {
			keys++
		}
	}
	if keys > 1 {
		return "motor"
	}
	return Foreign
}
