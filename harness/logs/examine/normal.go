package examine

import "math"

// normal is the normal equations of a fit by least squares: a x = b.
type normal struct {
	a [][]float64
	b []float64
}

func newNormal(n int) *normal {
	m := &normal{b: make([]float64, n)}
	for range n {
		m.a = append(m.a, make([]float64, n))
	}
	return m
}

// add takes a sample in: y is row times x.
func (m *normal) add(row []float64, y float64) {
	for i, r := range row {
		m.b[i] += r * y
		for j, c := range row {
			m.a[i][j] += r * c
		}
	}
}

// solve gives x by Cholesky's decomposition; false: the samples don't tell it.
func (m *normal) solve() ([]float64, bool) { return m.solveFor(m.b) }

func (m *normal) solveFor(b []float64) (x []float64, ok bool) {
	n := len(b)
	l := make([][]float64, n)
	x = make([]float64, n)
	for i := range n {
		l[i] = make([]float64, n)
		for j := 0; j <= i; j++ {
			v := m.a[i][j]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			switch {
			case i != j:
				l[i][j] = v / l[j][j]
			case v > 0:
				l[i][i] = math.Sqrt(v)
			default:
				return nil, false
			}
		}
		x[i] = b[i]
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x, true
}

// inverse gives an element of the diagonal of the inverse of a: the variance of x there, for residuals of 1.
func (m *normal) inverse(i int) float64 {
	one := make([]float64, len(m.b))
	one[i] = 1
	x, ok := m.solveFor(one)
	if !ok {
		return math.Inf(1)
	}
	return x[i]
}
