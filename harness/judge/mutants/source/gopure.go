package source

import (
	"go/ast"
	"go/token"
	"go/types"
)

// goPure finds the functions of a package that change nothing but their own variables: no field, no element, nothing
// behind a pointer, and that call only such functions. They are told by their names, since no two with one name differ.
func goPure(files []*ast.File, info *types.Info) map[string]bool {
	bodies := map[string][]*ast.FuncDecl{}
	for _, f := range files {
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok {
				bodies[fn.Name.Name] = append(bodies[fn.Name.Name], fn)
			}
		}
	}
	pure := map[string]bool{}
	for n := range bodies {
		pure[n] = true
	}
	for again := true; again; {
		again = false
		for n, all := range bodies {
			for _, fn := range all {
				if pure[n] && (fn.Body == nil || !changesNothing(fn.Body, info, pure)) {
					pure[n], again = false, true
				}
			}
		}
	}
	return pure
}

// changesNothing says that what is written there changes local variables at most.
func changesNothing(n ast.Node, info *types.Info, pure map[string]bool) bool {
	is := true
	local := func(e ast.Expr) {
		if _, ok := e.(*ast.Ident); !ok {
			is = false
		}
	}
	ast.Inspect(n, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			for _, l := range n.Lhs {
				local(l)
			}
		case *ast.IncDecStmt:
			local(n.X)
		case *ast.UnaryExpr:
			is = is && n.Op != token.ARROW && n.Op != token.AND
		case *ast.CallExpr:
			is = is && (info.Types[n.Fun].IsType() || callsPure(n, info, pure))
		case *ast.FuncLit, *ast.SendStmt, *ast.GoStmt, *ast.DeferStmt:
			is = false
		}
		return is
	})
	return is
}

// callsPure says that a call is one of a pure function of the package, of package math, or min, max or len.
func callsPure(e *ast.CallExpr, info *types.Info, pure map[string]bool) bool {
	switch f := e.Fun.(type) {
	case *ast.Ident:
		return pure[f.Name] || info.Types[f].IsBuiltin() && (f.Name == "min" || f.Name == "max" || f.Name == "len")
	case *ast.SelectorExpr:
		if x, ok := f.X.(*ast.Ident); ok {
			if p, ok := info.Uses[x].(*types.PkgName); ok {
				return p.Imported().Path() == "math"
			}
		}
		return pure[f.Sel.Name]
	}
	return false
}
