package examine

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Linear is a linear system in steps: x' = F x + w, w with covariance Q, then scalar measurements.
type Linear struct {
	F, Q *mat.Dense
	Z    []Measured // after the step, in order
}

// Measured is one scalar measurement: z = H x + v, v with variance R.
type Measured struct {
	H    []float64
	Z, R float64
	Tag  int // the caller's own; kept with the innovation
}

// Innovation is what a measurement said beyond what was expected, and the variance of that.
type Innovation struct {
	Step, Tag int
	Nu, S     float64
}

// Smoothed is the outcome of Smooth: mean and covariance per step, and the innovations of the way
// forwards.
type Smoothed struct {
	X           []*mat.VecDense
	P           []*mat.Dense
	Innovations []Innovation
}

// Smooth runs a Kalman filter forwards from x0 with covariance p0 and the smoother of Rauch, Tung and
// Striebel (AIAA Journal 3(8), 1965, 1445-1450) back. Step k of the outcome is after system k and
// its measurements. Measurements of one step are taken one after the other, which is exact since
// their errors are independent.
func Smooth(x0 []float64, p0 *mat.Dense, steps []Linear) (*Smoothed, error) {
	n := len(x0)
	x, p := mat.NewVecDense(n, append([]float64(nil), x0...)), mat.DenseCopyOf(p0)
	out := &Smoothed{}
	var predicted []*mat.VecDense
	var spread []*mat.Dense
	for k := range steps {
		s := &steps[k]
		xp, pp := mat.NewVecDense(n, nil), mat.NewDense(n, n, nil)
		xp.MulVec(s.F, x)
		pp.Product(s.F, p, s.F.T())
		pp.Add(pp, s.Q)
		predicted, spread = append(predicted, mat.VecDenseCopyOf(xp)), append(spread, mat.DenseCopyOf(pp))
		for _, z := range s.Z {
			out.Innovations = append(out.Innovations, update(xp, pp, z, k))
		}
		x, p = xp, pp
		out.X, out.P = append(out.X, x), append(out.P, p)
	}
	return out, out.back(steps, predicted, spread)
}

// update takes one measurement into x and p.
func update(x *mat.VecDense, p *mat.Dense, z Measured, step int) Innovation {
	n := x.Len()
	ph := make([]float64, n)
	s, hx := z.R, 0.0
	for i := range n {
		for j, h := range z.H {
			ph[i] += p.At(i, j) * h
		}
	}
	for i, h := range z.H {
		s += h * ph[i]
		hx += h * x.AtVec(i)
	}
	nu := z.Z - hx
	for i := range n {
		x.SetVec(i, x.AtVec(i)+ph[i]*nu/s)
	}
	for i := range n {
		for j := range n {
			p.Set(i, j, p.At(i, j)-ph[i]*ph[j]/s)
		}
	}
	return Innovation{Step: step, Tag: z.Tag, Nu: nu, S: s}
}

// back goes from the last step to the first: C = P F' (F P F' + Q)^-1, x += C (x' - F x),
// P += C (P' - (F P F' + Q)) C'.
func (s *Smoothed) back(steps []Linear, predicted []*mat.VecDense, spread []*mat.Dense) error {
	for k := len(steps) - 2; k >= 0; k-- {
		n := s.X[k].Len()
		f := steps[k+1].F
		var pf, c, ct, d, t mat.Dense
		pf.Mul(f, s.P[k]) // (P F')' since P is symmetric
		if err := ct.Solve(spread[k+1], &pf); err != nil {
			var ill mat.Condition
			if !errors.As(err, &ill) || math.IsInf(float64(ill), 1) {
				return errors.New("examine: the smoother met a covariance without an inverse")
			}
		}
		c.CloneFrom(ct.T())
		dx := mat.NewVecDense(n, nil)
		dx.SubVec(s.X[k+1], predicted[k+1])
		var cx mat.VecDense
		cx.MulVec(&c, dx)
		s.X[k].AddVec(s.X[k], &cx)
		d.Sub(s.P[k+1], spread[k+1])
		t.Product(&c, &d, c.T())
		s.P[k].Add(s.P[k], &t)
	}
	return nil
}
