package hunt

import (
	"math"
)

// The step sizes of a local search, as shares of the ranges.
const (
	firstStep = 0.25
	laterStep = 1.0 / 32
	lastStep  = 1.0 / 256
)

// localSearch searches locally for the worst score of one criterion. It polls both ways along a set of orthogonal
// directions, moves to the worst point, extrapolates the last move, and halves its step when nothing is worse
// (generating set search: T. G. Kolda, R. M. Lewis, V. Torczon, SIAM Review 45(3), 2003, pages 385-482; the
// extrapolation is that of R. Hooke and T. A. Jeeves, Journal of the ACM 8(2), 1961). After the axes it uses oblique
// directions, with growing steps while that succeeds, so that it follows a valley. It only compares scores, so it needs
// no gradient and accepts a fail without a margin. The seed stays the same, so the scores have no noise. At the end the
// other seeds are tried at the point found; if one of them is worse, the search goes on from there with small steps.
func (h *searcher) localSearch(criterion, from int) error {
	h.searched[criterion] = append(h.searched[criterion], from)
	at, err := h.poll(criterion, from, firstStep)
	if err != nil {
		return err
	}
	var others []Point
	for s := range h.opt.Seeds {
		others = append(others, Point{h.flown[at].At, s})
	}
	first := len(h.flown)
	if err := h.fly(others, false); err != nil {
		return err
	}
	if worse, ok := h.worse(criterion, at, first); ok {
		if at, err = h.poll(criterion, worse, laterStep); err != nil {
			return err
		}
	}
	h.searched[criterion] = append(h.searched[criterion], at)
	return nil
}

// poll moves from a flight to worse ones, and gives the last.
func (h *searcher) poll(criterion, at int, step float64) (int, error) {
	var extrapolated []float64 // the extrapolation of the last move, if the last poll found a worse point
	trend := make([]float64, h.dims)
	for turn := 0; step >= lastStep && !h.done(); {
		points := h.neighbours(at, step, h.directions(turn, trend))
		if extrapolated != nil {
			points = append(points, Point{extrapolated, h.flown[at].Seed})
		}
		first := len(h.flown)
		if err := h.fly(points, false); err != nil {
			return at, err
		}
		worse, ok := h.worse(criterion, at, first)
		if !ok {
			extrapolated = nil
			step /= 2
			turn++
			continue
		}
		extrapolated = make([]float64, h.dims)
		for i := range extrapolated {
			moved := h.flown[worse].At[i] - h.flown[at].At[i]
			extrapolated[i] = clamp(h.flown[worse].At[i] + moved)
			trend[i] = trend[i]/2 + moved
		}
		at = worse
		if turn%2 == 1 {
			step = min(2*step, firstStep)
		} else {
			turn++
		}
	}
	return at, nil
}

// worse gives the worst of the flights from first on, if it is worse than that at.
func (h *searcher) worse(criterion, at, first int) (int, bool) {
	i := Worst(h.flown[first:], criterion)
	if i < 0 || !h.flown[first+i].Scores[criterion].Worse(h.flown[at].Scores[criterion]) {
		return at, false
	}
	return first + i, true
}

// neighbours gives the points one step away from a flight, both ways along each direction, limited to the box.
func (h *searcher) neighbours(at int, step float64, directions [][]float64) []Point {
	var out []Point
	for _, d := range directions {
		for _, sign := range [...]float64{1, -1} {
			p := Point{make([]float64, h.dims), h.flown[at].Seed}
			for i := range p.At {
				p.At[i] = clamp(h.flown[at].At[i] + sign*step*d[i])
			}
			out = append(out, p)
		}
	}
	return out
}

func clamp(x float64) float64 { return min(max(x, 0), 1) }

// directions gives orthogonal unit vectors: the axes at even turns, and at odd turns their images under a Householder
// reflection. Half of the reflections are random; the others turn the first axis into the recent direction of the
// search (the idea of H. H. Rosenbrock, The Computer Journal 3(3), 1960).
func (h *searcher) directions(turn int, trend []float64) [][]float64 {
	normal := make([]float64, h.dims)
	size := norm(trend)
	switch {
	case turn%2 == 1 && size > 0 && h.random.Uniform() < 0.5:
		for i := range normal {
			normal[i] = -trend[i] / size
		}
		normal[0]++
	case turn%2 == 1:
		for i := range normal {
			normal[i] = h.random.Normal()
		}
	}
	out := make([][]float64, h.dims)
	size = norm(normal)
	for i := range out {
		out[i] = make([]float64, h.dims)
		out[i][i] = 1
		for k := range out[i] {
			if size > 1e-9 {
				out[i][k] -= float64(2 * (normal[i] / size) * (normal[k] / size))
			}
		}
	}
	return out
}

func norm(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += float64(x * x)
	}
	return math.Sqrt(s)
}
