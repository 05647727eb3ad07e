package source

import (
	"drystage/harness/judge/mutants"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// cSites finds the sites of a C file.
type cSites struct {
	scope    CScope
	text     string
	calm     map[string]bool // functions that change nothing
	function string
	params   map[string]bool
	sites    []site
}

func (c *cSites) file(all *cNode) {
	for i := range all.Inner {
		fn := &all.Inner[i]
		if fn.Kind != "FunctionDecl" || fn.Loc.IncludedFrom != nil || len(fn.Inner) == 0 || slices.Contains(c.scope.Leave, fn.Name) {
			continue
		}
		c.function, c.params = fn.Name, map[string]bool{}
		for k := range fn.Inner {
			switch x := &fn.Inner[k]; x.Kind {
			case "ParmVarDecl":
				c.params[x.Name] = true
			case "CompoundStmt":
				c.statement(x)
			}
		}
	}
}

func (c *cSites) span(n *cNode) (from, to int) {
	b, e := n.Range.Begin.used(), n.Range.End.used()
	return b.Offset, e.Offset + e.TokLen
}

func (c *cSites) of(n *cNode) string {
	from, to := c.span(n)
	return c.text[from:to]
}

// add adds a site; typ is empty for a statement, which ends with its semicolon. A value that is read may be constant; the
// variable that it is kept in is not.
func (c *cSites) add(n *cNode, typ string, alternatives ...alternative) {
	typ = strings.TrimPrefix(typ, "const ")
	from, to := c.span(n)
	if typ == "" {
		to += strings.IndexByte(c.text[to:], ';') + 1
	}
	if alternatives = real(alternatives); len(alternatives) > 0 {
		s := site{from: from, end: to, line: 1 + strings.Count(c.text[:from], "\n"), function: c.function, typ: typ, alternatives: alternatives}
		if typ != "" {
			s.pure = changesNothingC(n, c.calm)
		} else {
			s.to, s.pure = c.assigned(n)
		}
		c.sites = append(c.sites, s)
	}
}

// assigned gives the one number that a statement assigns to, if it changes nothing else.
func (c *cSites) assigned(n *cNode) (to string, pure bool) {
	if !(n.is("BinaryOperator") && n.Opcode == "=" || n.is("CompoundAssignOperator", "UnaryOperator")) || !slices.Contains(cNumbers, n.Inner[0].Type.QualType) {
		return "", false
	}
	for i := range n.Inner {
		if !changesNothingC(&n.Inner[i], c.calm) {
			return "", false
		}
	}
	return c.of(&n.Inner[0]), true
}

func (c *cSites) statement(n *cNode) {
	switch n.Kind {
	case "CompoundStmt", "DefaultStmt":
		for i := range n.Inner {
			c.statement(&n.Inner[i])
		}
	case "CaseStmt":
		c.statement(&n.Inner[len(n.Inner)-1])
	case "IfStmt":
		c.condition(&n.Inner[0], whole)
		for i := range n.Inner[1:] {
			c.statement(&n.Inner[1+i])
		}
	case "ReturnStmt":
		for i := range n.Inner {
			c.expr(&n.Inner[i])
		}
	case "SwitchStmt":
		c.expr(&n.Inner[0])
		c.statement(&n.Inner[len(n.Inner)-1])
	case "ForStmt": // its parts: begin, a variable, condition, step, body
		if len(n.Inner) == 5 && n.Inner[2].Kind != "" {
			c.condition(&n.Inner[2], value)
		}
		c.statement(&n.Inner[len(n.Inner)-1])
	case "DoStmt":
		c.statement(&n.Inner[0])
	case "WhileStmt":
		c.statement(&n.Inner[len(n.Inner)-1])
	case "DeclStmt":
		for i := range n.Inner {
			for k := range n.Inner[i].Inner {
				c.expr(&n.Inner[i].Inner[k])
			}
		}
	default:
		c.simple(n)
	}
}

// simple takes a statement that is an expression.
func (c *cSites) simple(n *cNode) {
	switch {
	case n.Kind == "CallExpr" || n.Kind == "CStyleCastExpr":
		call := n
		if n.Kind == "CStyleCastExpr" {
			call = n.Inner[0].bare()
		}
		if name := call.calls(); name != "" && !slices.Contains(c.scope.Tells, name) {
			c.add(n, "", alternative{mutants.Dropped, ""})
			c.expr(call)
		}
	case n.Kind == "BinaryOperator" && n.Opcode == "=" && slices.Contains(c.scope.Told, n.Inner[0].bare().Name):
	case n.Kind == "BinaryOperator" && n.Opcode == "=":
		to, from := &n.Inner[0], &n.Inner[1]
		alternatives := []alternative{{mutants.Dropped, ""}}
		if f := from.bare(); !f.macro() && !f.is("IntegerLiteral", "FloatingLiteral") {
			alternatives = append(alternatives, alternative{mutants.Narrowed, c.narrowed(to, c.of(from))})
		}
		c.add(n, "", alternatives...)
		c.expr(from)
	case n.Kind == "CompoundAssignOperator":
		to, from := &n.Inner[0], &n.Inner[1]
		alternatives := []alternative{{mutants.Dropped, ""}}
		if other := map[string]string{"+=": " -= ", "-=": " += "}[n.Opcode]; other != "" {
			alternatives = append(alternatives, alternative{mutants.Turned, c.of(to) + other + c.of(from)},
				alternative{mutants.Narrowed, c.narrowed(to, c.of(to)+" "+n.Opcode[:1]+" ("+c.of(from)+")")})
		}
		c.add(n, "", alternatives...)
		c.expr(from)
	case n.Kind == "UnaryOperator" && (n.Opcode == "++" || n.Opcode == "--"):
		to := &n.Inner[0]
		if strings.Contains(to.Type.QualType, "*") {
			return
		}
		other := map[string]string{"++": "--", "--": "++"}[n.Opcode]
		c.add(n, "", alternative{mutants.Dropped, ""}, alternative{mutants.Turned, c.of(to) + other}, alternative{mutants.Narrowed, c.narrowed(to, c.of(to)+" + 1")})
	}
}

// narrowed assigns a number as it comes out of a narrower type; empty if it can't.
func (c *cSites) narrowed(to *cNode, from string) string {
	switch to.Type.QualType {
	case "int32_t":
		return c.of(to) + " = (int32_t)(int8_t)(" + from + ")"
	case "int64_t":
		return c.of(to) + " = (" + from + ") % 65536000"
	case "double":
		return c.of(to) + " = (double)(int16_t)(int64_t)((" + from + ") * 100.0) / 100.0"
	}
	return ""
}

func (c *cSites) condition(n *cNode, r role) {
	n = n.bare()
	if n.macro() || n.is("IntegerLiteral", "StringLiteral") {
		return
	}
	if n.Kind == "BinaryOperator" && (n.Opcode == "&&" || n.Opcode == "||") {
		if r == whole || r == value {
			c.add(n, "int", alternative{mutants.Negated, "!(" + c.of(n) + ")"})
		}
		part := andPart
		if n.Opcode == "||" {
			part = orPart
		}
		c.condition(&n.Inner[0], part)
		c.condition(&n.Inner[1], part)
		return
	}
	alternatives := []alternative{{mutants.Negated, "!(" + c.of(n) + ")"}}
	not := n.Kind == "UnaryOperator" && n.Opcode == "!"
	if not {
		alternatives[0].text = c.of(&n.Inner[0])
	}
	switch r {
	case andPart:
		alternatives = append(alternatives, alternative{mutants.LeftOut, "1"})
	case orPart, whole:
		alternatives = append(alternatives, alternative{mutants.LeftOut, "0"})
	}
	if op := shifted[n.Opcode]; op != "" && n.Kind == "BinaryOperator" {
		alternatives = append(alternatives, alternative{mutants.Shifted, c.of(&n.Inner[0]) + " " + op + " " + c.of(&n.Inner[1])})
	}
	c.add(n, "int", alternatives...)
	if not {
		if inner := n.Inner[0].bare(); inner.Kind == "BinaryOperator" {
			c.condition(inner, value)
		} else {
			c.expr(inner)
		}
		return
	}
	for i := range n.Inner {
		if n.Kind == "CallExpr" && i == 0 {
			continue
		}
		c.expr(&n.Inner[i])
	}
}

func (c *cSites) expr(n *cNode) {
	n = n.bare()
	t := n.Type.QualType
	pointer := strings.Contains(t, "*")
	if n.macro() {
		if name := c.of(n); !pointer && !strings.HasPrefix(name, c.scope.Own) && literal(n) {
			c.add(n, t, alternative{mutants.Halved, name + " / 2"}, alternative{mutants.Doubled, name + " * 2"})
		}
		return
	}
	switch n.Kind {
	case "IntegerLiteral", "FloatingLiteral":
		if v, err := strconv.ParseFloat(fmt.Sprint(n.Value), 64); err == nil && v != 0 {
			c.add(n, t, alternative{mutants.Halved, c.of(n) + " / 2"}, alternative{mutants.Doubled, c.of(n) + " * 2"})
		}
	case "UnaryOperator":
		switch n.Opcode {
		case "!":
			c.condition(n, value)
		case "-":
			c.add(n, t, alternative{mutants.Turned, c.of(&n.Inner[0])})
			c.expr(&n.Inner[0])
		}
	case "BinaryOperator":
		c.operator(n)
	case "ConditionalOperator":
		c.condition(&n.Inner[0], whole)
		c.expr(&n.Inner[1])
		c.expr(&n.Inner[2])
	case "CallExpr":
		for i := range n.Inner[1:] {
			c.expr(&n.Inner[1+i])
		}
	case "CStyleCastExpr", "InitListExpr":
		for i := range n.Inner {
			c.expr(&n.Inner[i])
		}
	case "MemberExpr":
		if to := nextAxis(n.Name); to != "" && !pointer {
			c.add(n, t, alternative{mutants.Swapped, strings.TrimSuffix(c.of(n), n.Name) + to})
		}
	case "DeclRefExpr":
		if to := nextAxis(n.ReferencedDecl.Name); to != "" && c.params[n.ReferencedDecl.Name] && c.params[to] {
			c.add(n, t, alternative{mutants.Swapped, to})
		}
	}
}

func (c *cSites) operator(n *cNode) {
	switch n.Opcode {
	case "&&", "||", "<", "<=", ">", ">=", "==", "!=":
		c.condition(n, value)
		return
	case "+", "-":
		if !strings.Contains(n.Type.QualType, "*") {
			other := map[string]string{"+": " - ", "-": " + "}[n.Opcode]
			c.add(n, n.Type.QualType, alternative{mutants.Turned, c.of(&n.Inner[0]) + other + "(" + c.of(&n.Inner[1]) + ")"})
		}
	}
	c.expr(&n.Inner[0])
	c.expr(&n.Inner[1])
}

// literal says that an expression has a number in it and nothing that varies.
func literal(n *cNode) (is bool) {
	if n.is("DeclRefExpr", "CallExpr", "MemberExpr", "StringLiteral") {
		return false
	}
	is = n.is("IntegerLiteral", "FloatingLiteral") && n.Value != "0"
	for i := range n.Inner {
		is = is || literal(&n.Inner[i])
	}
	return is
}
