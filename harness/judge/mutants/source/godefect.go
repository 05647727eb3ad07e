package source

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
)

// defect says that an expression without && and || tests which defect the board has.
func (g *goSites) defect(e ast.Expr) (is bool) {
	ast.Inspect(e, func(n ast.Node) bool {
		if x, ok := n.(ast.Expr); ok {
			if named, ok := g.info.Types[x].Type.(*types.Named); ok && named.Obj().Name() == g.scope.Switch {
				is = true
			}
		}
		return true
	})
	return is || g.onlyForDefects(e)
}

// positive says that a condition holds for boards with a certain defect only.
func (g *goSites) positive(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.ParenExpr:
		return g.positive(e.X)
	case *ast.BinaryExpr:
		if e.Op == token.LAND {
			return g.positive(e.X) || g.positive(e.Y)
		}
		return e.Op == token.EQL && g.defect(e)
	case *ast.SelectorExpr: // a field that only they set
		return g.onlyForDefects(e)
	}
	return false
}

// onlyDefects says that all parts of a condition test which defect the board has.
func (g *goSites) onlyDefects(e ast.Expr) bool {
	if b, ok := e.(*ast.BinaryExpr); ok && (b.Op == token.LAND || b.Op == token.LOR) {
		return g.onlyDefects(b.X) && g.onlyDefects(b.Y)
	}
	return g.defect(e)
}

// onlyForDefects says that an expression is, or is about, one of the fields that only defects use.
func (g *goSites) onlyForDefects(e ast.Expr) (is bool) {
	ast.Inspect(e, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok && slices.Contains(g.scope.Fields, s.Sel.Name) {
			is = true
		}
		return true
	})
	return is
}

// tells says that a call only tells something, which decides nothing.
func (g *goSites) tells(call *ast.CallExpr) bool {
	s, ok := call.Fun.(*ast.SelectorExpr)
	return ok && slices.Contains(g.scope.Tells, s.Sel.Name)
}
