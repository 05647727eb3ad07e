package hunt

import (
	"math"
	"slices"

	"drystage/sim/noise"
)

// population is a covariance matrix adaptation evolution strategy: N. Hansen, "The CMA evolution strategy: a tutorial",
// arXiv:1604.00772, table 1 for all constants, with the covariance matrix as its lower triangular factor, as O. Krause and others,
// "CMA-ES with optimal covariance update and storage complexity", NIPS 2016. It only needs to know which points are worse than others.
type population struct {
	random                    *noise.Stream
	mean, path, sigmaPath     []float64
	sigma                     float64
	c, factor                 [][]float64 // covariance, lower triangle of it; and its factor
	weights                   []float64
	effective                 float64 // of the weights
	cSigma, dSigma, cC, c1, m float64 // learning rates: of step, damping, of path, of rank one, of rank mu
}

// newPopulation starts at a point of the unit box.
func newPopulation(at []float64, size int, random *noise.Stream) *population {
	n := float64(len(at))
	p := &population{random: random, mean: slices.Clone(at), path: make([]float64, len(at)), sigmaPath: make([]float64, len(at)), sigma: firstStep}
	sum, square := 0.0, 0.0
	for i := range size / 2 {
		w := math.Log(float64(size)/2+0.5) - math.Log(float64(i)+1)
		p.weights = append(p.weights, w)
		sum += w
	}
	for i := range p.weights {
		p.weights[i] /= sum
		square += p.weights[i] * p.weights[i]
	}
	e := 1 / square
	p.effective = e
	p.cSigma = (e + 2) / (n + e + 5)
	p.dSigma = 1 + 2*max(0, math.Sqrt((e-1)/(n+1))-1) + p.cSigma
	p.cC = (4 + e/n) / (n + 4 + 2*e/n)
	p.c1 = 2 / ((n+1.3)*(n+1.3) + e)
	p.m = min(1-p.c1, 2*(e-2+1/e)/((n+2)*(n+2)+e))
	for i := range at {
		p.c = append(p.c, make([]float64, i+1))
		p.c[i][i] = 1
	}
	p.factor = factored(p.c)
	return p
}

// sample draws points, reflected at the walls of the box.
func (p *population) sample(n int) [][]float64 {
	out := make([][]float64, n)
	for k := range out {
		z := make([]float64, len(p.mean))
		for i := range z {
			z[i] = p.random.Normal()
		}
		out[k] = make([]float64, len(z))
		for i, row := range p.factor {
			y := 0.0
			for j, x := range row {
				y += float64(x * z[j])
			}
			out[k][i] = reflected(p.mean[i] + float64(p.sigma*y))
		}
	}
	return out
}

// reflected folds a number into [0, 1].
func reflected(x float64) float64 {
	x = math.Mod(math.Abs(x), 2)
	return min(x, 2-x)
}

// update moves the population to the worst points of a generation, which are sorted, the worst first.
func (p *population) update(sorted [][]float64) {
	n := len(p.mean)
	moved := make([]float64, n)
	steps := make([][]float64, len(p.weights))
	for k, w := range p.weights {
		steps[k] = make([]float64, n)
		for i := range n {
			steps[k][i] = (sorted[k][i] - p.mean[i]) / p.sigma
			moved[i] += float64(w * steps[k][i])
		}
	}
	white := solved(p.factor, moved)
	length := 0.0
	for i := range n {
		p.mean[i] += float64(p.sigma * moved[i])
		p.sigmaPath[i] = float64((1-p.cSigma)*p.sigmaPath[i]) + float64(math.Sqrt(p.cSigma*(2-p.cSigma)*p.effective)*white[i])
		p.path[i] = float64((1-p.cC)*p.path[i]) + float64(math.Sqrt(p.cC*(2-p.cC)*p.effective)*moved[i])
		length += float64(p.sigmaPath[i] * p.sigmaPath[i])
	}
	for i, row := range p.c {
		for j := range row {
			row[j] = float64((1-p.c1-p.m)*row[j]) + float64(p.c1*p.path[i]*p.path[j])
			for k, w := range p.weights {
				row[j] += float64(p.m * w * steps[k][i] * steps[k][j])
			}
		}
	}
	if f := factored(p.c); f != nil {
		p.factor = f
	}
	d := float64(n)
	usual := math.Sqrt(d) * (1 - 1/(4*d) + 1/(21*d*d)) // mean length of a standard normal vector
	p.sigma = min(p.sigma*math.Exp(p.cSigma/p.dSigma*(math.Sqrt(length)/usual-1)), 1)
}

// wide is the largest standard deviation along an axis.
func (p *population) wide() float64 {
	w := 0.0
	for i := range p.c {
		w = max(w, p.sigma*math.Sqrt(p.c[i][i]))
	}
	return w
}

// factored gives the lower triangular factor of a positive definite matrix; nil if it isn't one.
func factored(c [][]float64) [][]float64 {
	f := make([][]float64, len(c))
	for i := range c {
		f[i] = slices.Clone(c[i])
		for j := range f[i] {
			for k := range j {
				f[i][j] -= float64(f[i][k] * f[j][k])
			}
			if j < i {
				f[i][j] /= f[j][j]
			}
		}
		if !(f[i][i] > 1e-20) {
			return nil
		}
		f[i][i] = math.Sqrt(f[i][i])
	}
	return f
}

// solved gives x with factor x = b.
func solved(factor [][]float64, b []float64) []float64 {
	x := slices.Clone(b)
	for i, row := range factor {
		for j := range i {
			x[i] -= float64(row[j] * x[j])
		}
		x[i] /= row[i]
	}
	return x
}

// patience is how many generations without a worse flight end a population.
const patience = 12

// evolve searches for the worst score of one criterion by a population around a flight, which keeps that flight's seed. All
// flights of a generation are asked for at once. The path depends on nothing but options and scores.
func (h *searcher) evolve(criterion, from int) error {
	h.searched[criterion] = append(h.searched[criterion], from)
	p := newPopulation(inBox(h.flown[from].At), h.opt.Population, h.random)
	at := from
	for idle := 0; idle < patience && p.wide() > lastStep && !h.done(); idle++ {
		points := make([]Point, h.opt.Population)
		for i, x := range p.sample(len(points)) {
			points[i] = Point{x, h.flown[from].Seed}
		}
		if err := h.fly(points, false); err != nil {
			return err
		}
		order := h.ranked(criterion, points)
		if len(order) < len(p.weights) {
			break // the flights are used up
		}
		sorted := make([][]float64, len(order))
		for k, i := range order {
			sorted[k] = h.flown[i].At
		}
		p.update(sorted)
		if h.flown[order[0]].Scores[criterion].Worse(h.flown[at].Scores[criterion]) {
			at, idle = order[0], -1
		}
	}
	h.searched[criterion] = append(h.searched[criterion], at)
	return nil
}

// ranked gives the flights of points, the worst first.
func (h *searcher) ranked(criterion int, points []Point) (order []int) {
	for _, x := range points {
		if i, ok := h.asked[key(x)]; ok && i < len(h.flown) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return h.flown[a].Scores[criterion].Compare(h.flown[b].Scores[criterion])
	})
	return order
}

func inBox(at []float64) []float64 {
	out := slices.Clone(at)
	for i := range out {
		out[i] = clamp(out[i])
	}
	return out
}
