package source

import (
	"drystage/harness/judge/mutants"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"slices"
	"strconv"
	"strings"
)

// goSites finds the sites of a Go file.
type goSites struct {
	scope    GoScope
	info     *types.Info
	pkg      *types.Package
	at       *token.File
	text     string
	calm     map[string]bool // functions that change nothing
	function string
	params   map[string]bool
	sites    []site
}

func (g *goSites) file(f *ast.File) {
	for _, d := range f.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok || fn.Body == nil || slices.Contains(g.scope.Leave, fn.Name.Name) {
			continue
		}
		g.function, g.params = fn.Name.Name, map[string]bool{}
		for _, p := range fn.Type.Params.List {
			for _, n := range p.Names {
				g.params[n.Name] = true
			}
		}
		g.block(fn.Body.List)
	}
}

func (g *goSites) of(n ast.Node) string { return g.text[g.at.Offset(n.Pos()):g.at.Offset(n.End())] }

func (g *goSites) add(n ast.Node, typ string, alternatives ...alternative) {
	if len(alternatives) == 0 {
		return
	}
	s := site{from: g.at.Offset(n.Pos()), end: g.at.Offset(n.End()), line: g.at.Line(n.Pos()), function: g.function, typ: typ, alternatives: alternatives}
	if typ != "" {
		s.pure = changesNothing(n, g.info, g.calm)
	} else {
		s.to, s.pure = g.assigned(n)
	}
	g.sites = append(g.sites, s)
}

// assigned gives the one thing that a statement assigns to, if it changes nothing else and it can be compared.
func (g *goSites) assigned(n ast.Node) (to string, pure bool) {
	var left, right ast.Expr
	switch n := n.(type) {
	case *ast.IncDecStmt:
		left, right = n.X, n.X
	case *ast.AssignStmt:
		if len(n.Lhs) != 1 || len(n.Rhs) != 1 {
			return "", false
		}
		left, right = n.Lhs[0], n.Rhs[0]
	default:
		return "", false
	}
	if _, basic := g.info.Types[left].Type.(*types.Basic); !basic || !changesNothing(left, g.info, g.calm) {
		return "", false
	}
	return g.of(left), changesNothing(right, g.info, g.calm)
}

func (g *goSites) block(list []ast.Stmt) {
	for _, s := range list {
		g.statement(s)
	}
}

func (g *goSites) statement(s ast.Stmt) {
	switch s := s.(type) {
	case *ast.ExprStmt:
		if call, ok := s.X.(*ast.CallExpr); ok && !g.tells(call) {
			g.add(s, "", alternative{mutants.Dropped, ""})
			g.expr(call)
		}
	case *ast.AssignStmt:
		g.assign(s)
	case *ast.IncDecStmt:
		if !g.onlyForDefects(s.X) {
			other := map[token.Token]string{token.INC: "--", token.DEC: "++"}[s.Tok]
			g.add(s, "", alternative{mutants.Dropped, ""}, alternative{mutants.Turned, g.of(s.X) + other}, alternative{mutants.Narrowed, g.narrowed(s.X, g.of(s.X)+"+1")})
		}
	case *ast.ReturnStmt:
		for _, r := range s.Results {
			g.expr(r)
		}
	case *ast.BlockStmt:
		g.block(s.List)
	case *ast.IfStmt:
		g.header(s.Init)
		g.condition(s.Cond, whole)
		if !g.positive(s.Cond) {
			g.block(s.Body.List)
		}
		if s.Else != nil {
			g.statement(s.Else)
		}
	case *ast.SwitchStmt:
		g.choice(s)
	case *ast.ForStmt:
		g.header(s.Init)
		if s.Cond != nil {
			g.condition(s.Cond, value)
		}
		g.block(s.Body.List)
	case *ast.RangeStmt:
		g.block(s.Body.List)
	}
}

// header takes a statement that stands where no other statement may.
func (g *goSites) header(s ast.Stmt) {
	if a, ok := s.(*ast.AssignStmt); ok {
		for _, r := range a.Rhs {
			g.expr(r)
		}
	}
}

func (g *goSites) choice(s *ast.SwitchStmt) {
	g.header(s.Init)
	if s.Tag != nil {
		if g.defect(s.Tag) {
			return
		}
		g.expr(s.Tag)
	}
	for _, c := range s.Body.List {
		c := c.(*ast.CaseClause)
		skip := false
		for _, e := range c.List {
			if s.Tag == nil {
				g.condition(e, whole)
				skip = skip || g.positive(e)
			}
		}
		if !skip {
			g.block(c.Body)
		}
	}
}

func (g *goSites) assign(s *ast.AssignStmt) {
	if s.Tok == token.DEFINE {
		g.header(s)
		return
	}
	for _, l := range s.Lhs {
		if g.onlyForDefects(l) {
			return
		}
	}
	alternatives := []alternative{{mutants.Dropped, ""}}
	switch one := len(s.Lhs) == 1; {
	case s.Tok == token.ADD_ASSIGN, s.Tok == token.SUB_ASSIGN:
		other := map[token.Token]string{token.ADD_ASSIGN: "-=", token.SUB_ASSIGN: "+="}[s.Tok]
		alternatives = append(alternatives, alternative{mutants.Turned, g.of(s.Lhs[0]) + other + g.of(s.Rhs[0])})
		alternatives = append(alternatives, alternative{mutants.Narrowed, g.narrowed(s.Lhs[0], g.of(s.Lhs[0])+strings.TrimSuffix(s.Tok.String(), "=")+"("+g.of(s.Rhs[0])+")")})
	case s.Tok == token.ASSIGN && one:
		if g.info.Types[s.Rhs[0]].Value == nil {
			alternatives = append(alternatives, alternative{mutants.Narrowed, g.narrowed(s.Lhs[0], g.of(s.Rhs[0]))})
		}
	case !one && len(s.Lhs) == len(s.Rhs):
		alternatives = g.eachKept(s)
	}
	g.add(s, "", real(alternatives)...)
	for _, r := range s.Rhs {
		g.expr(r)
	}
}

// eachKept drops one part of an assignment to several.
func (g *goSites) eachKept(s *ast.AssignStmt) (out []alternative) {
	for i := range s.Lhs {
		var left, right []string
		for k := range s.Lhs {
			if k != i {
				left, right = append(left, g.of(s.Lhs[k])), append(right, g.of(s.Rhs[k]))
			}
		}
		out = append(out, alternative{mutants.Dropped, strings.Join(left, ", ") + " = " + strings.Join(right, ", ")})
	}
	return out
}

// real leaves out alternatives that there are not.
func real(all []alternative) (out []alternative) {
	for _, a := range all {
		if a.text != "" || a.kind == mutants.Dropped {
			out = append(out, a)
		}
	}
	return out
}

// narrowed assigns a number as it comes out of a narrower type; empty if it can't.
func (g *goSites) narrowed(to ast.Expr, from string) string {
	t := g.info.Types[to].Type
	if t == nil {
		return ""
	}
	b, ok := t.(*types.Basic)
	if !ok {
		return ""
	}
	switch b.Kind() {
	case types.Int:
		return g.of(to) + " = int(int8(" + from + "))"
	case types.Int64:
		return g.of(to) + " = (" + from + ") % 65536000"
	case types.Float64:
		return g.of(to) + " = float64(int16(int64((" + from + ")*100))) / 100"
	}
	return ""
}

// role is where a condition stands.
type role int

const (
	value role = iota // its value is kept or handed on
	whole             // it decides alone
	andPart
	orPart
)

func (g *goSites) condition(e ast.Expr, r role) {
	if p, ok := e.(*ast.ParenExpr); ok {
		g.condition(p.X, r)
		return
	}
	if g.positive(e) || g.onlyDefects(e) {
		return
	}
	if b, ok := e.(*ast.BinaryExpr); ok && (b.Op == token.LAND || b.Op == token.LOR) {
		if r == whole || r == value {
			g.add(e, "bool", alternative{mutants.Negated, "!(" + g.of(e) + ")"})
		}
		part := andPart
		if b.Op == token.LOR {
			part = orPart
		}
		g.condition(b.X, part)
		g.condition(b.Y, part)
		return
	}
	if g.info.Types[e].Value != nil {
		return
	}
	alternatives := []alternative{{mutants.Negated, "!(" + g.of(e) + ")"}}
	if n, ok := e.(*ast.UnaryExpr); ok {
		alternatives[0].text = g.of(n.X)
	}
	switch r {
	case andPart:
		alternatives = append(alternatives, alternative{mutants.LeftOut, "true"})
	case orPart, whole:
		alternatives = append(alternatives, alternative{mutants.LeftOut, "false"})
	}
	if b, ok := e.(*ast.BinaryExpr); ok {
		if op := shifted[b.Op.String()]; op != "" {
			alternatives = append(alternatives, alternative{mutants.Shifted, g.of(b.X) + " " + op + " " + g.of(b.Y)})
		}
	}
	g.add(e, "bool", alternatives...)
	g.inside(e)
}

var shifted = map[string]string{"<": "<=", "<=": "<", ">": ">=", ">=": ">"}

// inside takes the parts of a condition that has no && or ||.
func (g *goSites) inside(e ast.Expr) {
	switch e := e.(type) {
	case *ast.BinaryExpr:
		g.expr(e.X)
		g.expr(e.Y)
	case *ast.UnaryExpr:
		if p, ok := e.X.(*ast.ParenExpr); ok {
			g.condition(p.X, value)
			return
		}
		g.inside(e.X)
	case *ast.CallExpr:
		g.call(e)
	}
}

func (g *goSites) expr(e ast.Expr) {
	tv := g.info.Types[e]
	if tv.Value != nil {
		g.constant(e, tv)
		return
	}
	if b, ok := tv.Type.(*types.Basic); ok && b.Info()&types.IsBoolean != 0 {
		g.condition(e, value)
		return
	}
	switch e := e.(type) {
	case *ast.ParenExpr:
		g.expr(e.X)
	case *ast.BinaryExpr:
		if other := map[token.Token]string{token.ADD: " - ", token.SUB: " + "}[e.Op]; other != "" && g.number(tv.Type) != "" {
			g.add(e, g.number(tv.Type), alternative{mutants.Turned, g.of(e.X) + other + "(" + g.of(e.Y) + ")"})
		}
		g.expr(e.X)
		g.expr(e.Y)
	case *ast.UnaryExpr:
		if e.Op == token.SUB {
			g.add(e, g.number(tv.Type), alternative{mutants.Turned, g.of(e.X)})
			g.expr(e.X)
		}
	case *ast.CallExpr:
		g.call(e)
	case *ast.SelectorExpr:
		if to := nextAxis(e.Sel.Name); to != "" && g.number(tv.Type) != "" {
			g.add(e, g.number(tv.Type), alternative{mutants.Swapped, strings.TrimSuffix(g.of(e), e.Sel.Name) + to})
		}
	case *ast.Ident:
		if to := nextAxis(e.Name); g.params[e.Name] && g.params[to] {
			g.add(e, g.number(tv.Type), alternative{mutants.Swapped, to})
		}
	case *ast.CompositeLit:
		for _, x := range e.Elts {
			if kv, ok := x.(*ast.KeyValueExpr); ok {
				x = kv.Value
			}
			g.expr(x)
		}
	}
}

func (g *goSites) call(e *ast.CallExpr) {
	if s, ok := e.Fun.(*ast.SelectorExpr); ok {
		if inner, ok := s.X.(*ast.CallExpr); ok {
			g.call(inner)
		}
	}
	for _, a := range e.Args {
		g.expr(a)
	}
}

// constant halves and doubles a number that isn't 0. Names of phases and reasons, and of the contract's own numbers,
// are none.
func (g *goSites) constant(e ast.Expr, tv types.TypeAndValue) {
	t := types.Default(tv.Type)
	name := g.number(t)
	if _, named := t.(*types.Named); named || name == "" || constant.Sign(constant.Real(tv.Value)) == 0 {
		return
	}
	if s, ok := e.(*ast.SelectorExpr); ok && g.info.Uses[s.Sel].Pkg() != g.pkg {
		return
	}
	if b, _ := t.(*types.Basic); b.Info()&types.IsFloat != 0 {
		g.add(e, name, alternative{mutants.Halved, "(" + g.of(e) + ") * 0.5"}, alternative{mutants.Doubled, "(" + g.of(e) + ") * 2"})
		return
	}
	n, exact := constant.Int64Val(constant.ToInt(tv.Value))
	if !exact {
		return
	}
	g.add(e, name, alternative{mutants.Halved, strconv.FormatInt(n/2, 10)}, alternative{mutants.Doubled, strconv.FormatInt(2*n, 10)})
}

// number is the name of a type of numbers; empty for others.
func (g *goSites) number(t types.Type) string {
	b, ok := t.Underlying().(*types.Basic)
	if !ok || b.Info()&types.IsNumeric == 0 {
		return ""
	}
	return types.TypeString(types.Default(t), types.RelativeTo(g.pkg))
}

// nextAxis is the axis that is taken for another by mistake; empty for what is no axis.
func nextAxis(name string) string {
	if name == "" {
		return ""
	}
	stem, last := name[:len(name)-1], name[len(name)-1:]
	if stem != "" && stem != "Accel" && stem != "Gyro" && stem != "accel_" && stem != "gyro_" {
		return ""
	}
	if next := map[string]string{"x": "y", "y": "z", "z": "x", "X": "Y", "Y": "Z", "Z": "X"}[last]; next != "" {
		return stem + next
	}
	return ""
}
