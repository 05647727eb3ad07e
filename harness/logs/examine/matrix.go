package examine

import "math"

// Matrix and Vector are of the smoother's states. A library for matrices of any size would be a tenth of the program.
type (
	Matrix [states][states]float64
	Vector [states]float64
)

// diagonal is the matrix with these numbers in its diagonal.
func diagonal(v Vector) (m Matrix) {
	for i, x := range v {
		m[i][i] = x
	}
	return m
}

func (m *Matrix) transposed() (t Matrix) {
	for i := range m {
		for j := range m {
			t[j][i] = m[i][j]
		}
	}
	return t
}

func (m *Matrix) times(n *Matrix) (p Matrix) {
	for i := range m {
		for j, a := range m[i] {
			for k, b := range n[j] {
				p[i][k] += a * b
			}
		}
	}
	return p
}

// around gives m n m'.
func (m *Matrix) around(n *Matrix) Matrix {
	t := m.transposed()
	p := m.times(n)
	return p.times(&t)
}

// plus gives m + f n.
func (m *Matrix) plus(f float64, n *Matrix) (s Matrix) {
	for i := range m {
		for j := range m {
			s[i][j] = m[i][j] + f*n[i][j]
		}
	}
	return s
}

func (m *Matrix) of(v *Vector) (w Vector) {
	for i := range m {
		for j, a := range m[i] {
			w[i] += a * v[j]
		}
	}
	return w
}

// plus gives v + f w.
func (v *Vector) plus(f float64, w *Vector) (s Vector) {
	for i := range v {
		s[i] = v[i] + f*w[i]
	}
	return s
}

// solve gives x with m x = n, by Gauss's elimination with the largest pivot of each column; false: m has no inverse.
func (m Matrix) solve(n Matrix) (x Matrix, ok bool) {
	for c := range m {
		best := c
		for i := c + 1; i < states; i++ {
			if math.Abs(m[i][c]) > math.Abs(m[best][c]) {
				best = i
			}
		}
		if p := math.Abs(m[best][c]); !(p > 0) || math.IsInf(p, 0) {
			return x, false
		}
		m[c], m[best], n[c], n[best] = m[best], m[c], n[best], n[c]
		for i := range m {
			if i == c {
				continue
			}
			f := m[i][c] / m[c][c]
			for j := range m {
				m[i][j] -= f * m[c][j]
				n[i][j] -= f * n[c][j]
			}
		}
	}
	for i := range m {
		for j := range m {
			x[i][j] = n[i][j] / m[i][i]
		}
	}
	return x, true
}
