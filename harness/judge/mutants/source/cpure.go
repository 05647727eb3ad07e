package source

import (
	"slices"
	"strings"
)

// cNumbers are the types of numbers of a C firmware.
var cNumbers = strings.Fields("double int uint8_t uint16_t int32_t uint32_t int64_t")

// cPure finds the functions that change nothing but their own variables and call only such functions, by their names.
func cPure(trees []cNode) map[string]bool {
	bodies := map[string][]*cNode{}
	for t := range trees {
		for i := range trees[t].Inner {
			fn := &trees[t].Inner[i]
			for k := range fn.Inner {
				if fn.Kind == "FunctionDecl" && fn.Inner[k].Kind == "CompoundStmt" {
					bodies[fn.Name] = append(bodies[fn.Name], &fn.Inner[k])
				}
			}
		}
	}
	pure := map[string]bool{}
	for _, n := range []string{"fabs", "sqrt"} {
		pure[n] = true
	}
	for n := range bodies {
		pure[n] = true
	}
	for again := true; again; {
		again = false
		for n, all := range bodies {
			if pure[n] && slices.ContainsFunc(all, func(b *cNode) bool { return !changesNothingC(b, pure) }) {
				pure[n], again = false, true
			}
		}
	}
	return pure
}

// changesNothingC says that what is written there changes local variables at most.
func changesNothingC(n *cNode, pure map[string]bool) bool {
	switch {
	case n.Kind == "CallExpr" && !pure[n.calls()]:
		return false
	case n.Kind == "BinaryOperator" && n.Opcode == "=", n.Kind == "CompoundAssignOperator", n.Kind == "UnaryOperator" && (n.Opcode == "++" || n.Opcode == "--"):
		if n.Inner[0].bare().Kind != "DeclRefExpr" {
			return false
		}
	}
	for i := range n.Inner {
		if !changesNothingC(&n.Inner[i], pure) {
			return false
		}
	}
	return true
}
