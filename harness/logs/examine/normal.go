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

// plus adds other equations of as many unknowns, with a weight.
func (m *normal) plus(o *normal, w float64) {
	for i := range m.b {
		m.b[i] += w * o.b[i]
		for j := range m.b {
			m.a[i][j] += w * o.a[i][j]
		}
	}
}

// solve gives x by Cholesky's decomposition; false: the samples don't tell it.
func (m *normal) solve() ([]float64, bool) { return m.solveFor(m.b) }

// cholesky gives l, with a = l lT; false: a is not positive definite.
func (m *normal) cholesky() (l [][]float64, ok bool) {
	l = make([][]float64, len(m.b))
	for i := range l {
		l[i] = make([]float64, len(l))
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
	}
	return l, true
}

func (m *normal) solveFor(b []float64) (x []float64, ok bool) {
	n := len(b)
	l, ok := m.cholesky()
	if !ok {
		return nil, false
	}
	x = make([]float64, n)
	for i := range n {
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

// weighted is a copy with the samples' weight changed and a normal prior around 0 on each x, of a standard deviation.
func (m *normal) weighted(w float64, priors []float64) *normal {
	o := newNormal(len(m.b))
	for i := range m.b {
		o.b[i] = w * m.b[i]
		for j := range m.b {
			o.a[i][j] = w * m.a[i][j]
		}
		o.a[i][i] += 1 / (priors[i] * priors[i])
	}
	return o
}

// rss is the sum of squared residuals of an x, where yy is that of y.
func (m *normal) rss(x []float64, yy float64) float64 {
	for i := range x {
		yy -= 2 * x[i] * m.b[i]
		for j := range x {
			yy += x[i] * m.a[i][j] * x[j]
		}
	}
	return max(yy, 0)
}

// logDeterminant is the logarithm of the determinant of a.
func (m *normal) logDeterminant() (d float64) {
	l, ok := m.cholesky()
	if !ok {
		return math.Inf(-1)
	}
	for i := range l {
		d += 2 * math.Log(l[i][i])
	}
	return d
}
