package examine

import "errors"

// Linear is a linear system in steps: x' = F x + w, w with covariance Q, then scalar measurements.
type Linear struct {
	F, Q Matrix
	Z    []Measured // after the step, in order
}

// Measured is one scalar measurement: z = H x + v, v with variance R.
type Measured struct {
	H    Vector
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
	X           []Vector
	P           []Matrix
	Innovations []Innovation
}

// Smooth runs a Kalman filter forwards from x0 with covariance p0 and the smoother of Rauch, Tung and
// Striebel (AIAA Journal 3(8), 1965, 1445-1450) back. Step k of the outcome is after system k and
// its measurements. Measurements of one step are taken one after the other, which is exact since
// their errors are independent.
func Smooth(x Vector, p Matrix, steps []Linear) (*Smoothed, error) {
	out := &Smoothed{}
	var predicted []Vector
	var spread []Matrix
	for k := range steps {
		s := &steps[k]
		x, p = s.F.of(&x), s.F.around(&p)
		p = p.plus(1, &s.Q)
		predicted, spread = append(predicted, x), append(spread, p)
		for _, z := range s.Z {
			out.Innovations = append(out.Innovations, update(&x, &p, z, k))
		}
		out.X, out.P = append(out.X, x), append(out.P, p)
	}
	return out, out.back(steps, predicted, spread)
}

// update takes one measurement into x and p.
func update(x *Vector, p *Matrix, z Measured, step int) Innovation {
	ph := p.of(&z.H)
	s, hx := z.R, 0.0
	for i, h := range z.H {
		s += h * ph[i]
		hx += h * x[i]
	}
	nu := z.Z - hx
	for i := range x {
		x[i] += ph[i] * nu / s
	}
	for i := range p {
		for j := range p {
			p[i][j] -= ph[i] * ph[j] / s
		}
	}
	return Innovation{Step: step, Tag: z.Tag, Nu: nu, S: s}
}

// back goes from the last step to the first: C = P F' (F P F' + Q)^-1, x += C (x' - F x),
// P += C (P' - (F P F' + Q)) C'.
func (s *Smoothed) back(steps []Linear, predicted []Vector, spread []Matrix) error {
	for k := len(steps) - 2; k >= 0; k-- {
		pf := steps[k+1].F.times(&s.P[k]) // (P F')' since P is symmetric
		ct, ok := spread[k+1].solve(pf)
		if !ok {
			return errors.New("examine: the smoother met a covariance without an inverse")
		}
		c := ct.transposed()
		dx := s.X[k+1].plus(-1, &predicted[k+1])
		cx := c.of(&dx)
		s.X[k] = s.X[k].plus(1, &cx)
		d := s.P[k+1].plus(-1, &spread[k+1])
		t := c.around(&d)
		s.P[k] = s.P[k].plus(1, &t)
	}
	return nil
}
