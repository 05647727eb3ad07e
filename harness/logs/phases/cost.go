package phases

import "math"

// terms is the greatest number of coefficients of a segment's model.
const terms = 4

// sums are moments of samples (u, x): of u alone, of x with u, and of x.
type sums struct {
	n float64
	u [2*terms - 1]float64
	b [terms]float64
	q float64
}

var choose = [7][7]float64{{1}, {1, 1}, {1, 2, 1}, {1, 3, 3, 1}, {1, 4, 6, 4, 1}, {1, 5, 10, 10, 5, 1}, {1, 6, 15, 20, 15, 6, 1}}

func (s *sums) sample(u, x float64) {
	s.n++
	p := 1.0
	for k := range s.u {
		s.u[k] += p
		if k < terms {
			s.b[k] += p * x
		}
		p *= u
	}
	s.q += x * x
}

// add adds moments whose own u begins d later.
func (s *sums) add(o *sums, d float64) {
	var pow [2*terms - 1]float64
	pow[0] = 1
	for k := 1; k < len(pow); k++ {
		pow[k] = pow[k-1] * d
	}
	s.n += o.n
	for k := range s.u {
		for j := 0; j <= k; j++ {
			c := choose[k][j] * pow[k-j]
			s.u[k] += c * o.u[j]
			if k < terms {
				s.b[k] += c * o.b[j]
			}
		}
	}
	s.q += o.q
}

// rss is the residual sum of squares of a polynomial with p coefficients, by Cholesky's decomposition of
// the normal equations in u/scale. Coefficients that the samples can't tell are left out.
func (s *sums) rss(p int, scale float64) float64 {
	var l [terms][terms]float64
	var y [terms]float64
	var pow [2*terms - 1]float64
	pow[0] = 1
	for k := 1; k < len(pow); k++ {
		pow[k] = pow[k-1] / scale
	}
	left := s.q
	for i := range p {
		for j := 0; j <= i; j++ {
			v := s.u[i+j] * pow[i+j]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			switch {
			case i != j && l[j][j] > 0:
				l[i][j] = v / l[j][j]
			case i == j && v > 1e-9*s.n:
				l[i][i] = math.Sqrt(v)
			}
		}
		if l[i][i] == 0 {
			continue
		}
		v := s.b[i] * pow[i]
		for k := range i {
			v -= l[i][k] * y[k]
		}
		y[i] = v / l[i][i]
		left -= y[i] * y[i]
	}
	return max(left, 0)
}

// marginal is the logarithm of the likelihood of n samples that leave rss, with their variance, of
// inverse gamma distribution with nu degrees of freedom around s0 squared, integrated out (Fearnhead
// 2006, Exact and efficient Bayesian inference for multiple changepoint problems).
func marginal(n, rss, nu, s0 float64) float64 {
	return lgamma((nu+n)/2) - lgamma(nu/2) + nu/2*math.Log(nu*s0*s0/2) - (nu+n)/2*math.Log((nu*s0*s0+rss)/2) - n/2*math.Log(2*math.Pi)
}

func lgamma(x float64) float64 {
	if x > 30 { // Stirling's series, here good to 1e-9
		return (x-0.5)*math.Log(x) - x + 0.5*math.Log(2*math.Pi) + 1/(12*x) - 1/(360*x*x*x)
	}
	y, _ := math.Lgamma(x)
	return y
}

// lognormal is the logarithm of a log-normal density of x, per unit of its logarithm.
func lognormal(x, mid, sigma float64) float64 {
	z := math.Log(x/mid) / sigma
	return -0.5*z*z - math.Log(sigma*math.Sqrt(2*math.Pi))
}
