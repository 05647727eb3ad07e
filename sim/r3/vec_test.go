package r3

import (
	"testing"

	"github.com/stretchr/testify/require"
	gonum "gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// TestVectorsAsGonum compares every function with gonum's.
func TestVectorsAsGonum(t *testing.T) {
	number := rapid.Float64Range(-1e3, 1e3)
	rapid.Check(t, func(t *rapid.T) {
		vec := func(name string) Vec {
			return Vec{number.Draw(t, name+".x"), number.Draw(t, name+".y"), number.Draw(t, name+".z")}
		}
		p, q, f := vec("p"), vec("q"), number.Draw(t, "f")
		a, b := gonum.Vec(p), gonum.Vec(q)
		require.Equal(t, gonum.Add(a, b), gonum.Vec(Add(p, q)))
		require.Equal(t, gonum.Sub(a, b), gonum.Vec(Sub(p, q)))
		require.Equal(t, gonum.Scale(f, a), gonum.Vec(Scale(f, p)))
		require.InDelta(t, gonum.Dot(a, b), Dot(p, q), 1e-9)
		require.InDelta(t, 0, gonum.Norm(gonum.Sub(gonum.Cross(a, b), gonum.Vec(Cross(p, q)))), 1e-9)
		require.Equal(t, gonum.Norm(a), Norm(p))
		if Norm(p) > 0 {
			require.Equal(t, gonum.Unit(a), gonum.Vec(Unit(p)))
		}
	})
}
