package phases

import (
	"math"
	"slices"
)

// model is what is expected of a kind of segment. Sizes are common practice without a source, wide
// enough to matter only where the samples say little.
type model struct {
	nu, s0   float64 // of the prior of the noise's variance
	terms    int
	duration float64 // s, middle of a log-normal prior; 0: any
	spread   float64 // of its logarithm
	least    float64 // s
	most     float64 // s; 0: any
	penalty  float64 // nats, for there being one
	before   []Kind
}

var models = [kinds]model{
	Pad:    {nu: 4, s0: 0.3, terms: 1, least: 0.05, before: nil},
	Boost:  {nu: 2, s0: 5, terms: 4, duration: 2, spread: 1, least: 0.12, penalty: 3, before: []Kind{Pad, Coast, Apart}},
	Tail:   {nu: 2, s0: 5, terms: 4, duration: 1, spread: 1.2, least: 0.03, penalty: 2, before: []Kind{Boost, Tail}},
	Coast:  {nu: 3, s0: 0.6, terms: 4, least: 0.15, before: []Kind{Boost, Tail, Shock, Braked}},
	Apart:  {nu: 3, s0: 0.6, terms: 4, least: 0.15, penalty: 8, before: []Kind{Coast}},
	Brief:  {nu: 3, s0: 0.6, terms: 2, least: 0.06, most: 0.15, penalty: 8, before: []Kind{Boost, Tail}},
	Braked: {nu: 3, s0: 0.6, terms: 3, least: 0.03, most: 2, penalty: 8, before: []Kind{Coast, Apart, Brief}},
	Shock:  {nu: 3, s0: 25, terms: 1, least: 0, most: 0.3, penalty: 5, before: []Kind{Coast, Brief, Boost, Tail}},
}

const (
	thrustMid    = 60.0 // m/s2, middle of the mean felt in a boost
	thrustSpread = 0.9  // of its logarithm: 10 to 350 m/s2 within two
	leastThrust  = 2.0  // m/s2: less is no tail of one
	leastBoost   = 1.2  // weights that a motor lifts at least; common practice, no source
	shapeShare   = 0.03 // of the mean by which a thrust is no cubic in time
	shapeMost    = 3.0  // m/s2
	cubicPenalty = 4.0  // nats that a coast costs which is no drag of its own speed
	pullMost     = 12.0 // nats that a burn costs at most which ends with a deceleration
	mostCoast    = 1.5  // m/s2 felt forwards at the start of a coast: bias and scale, of common parts
	begunPenalty = 3.0  // nats that a log costs which begins in flight, beside one that begins on the pad
	brakedLeast  = 15.0 // m/s2 by which what opens brakes more than the body does before and after it; common practice, no source
	biasSD       = 0.5  // m/s2, what an accelerometer reads too much in free fall
)

// ascent finds the cheapest sequence of segments from the pad to the apogee by dynamic programming over
// all pairs of candidate edges (Jackson et al. 2005, An algorithm for optimal partitioning of data on an
// interval).
func (a *axial) ascent(f *Flight, lift, top float64) {
	from, until := sorted(a.t, lift-4), sorted(a.t, max(top-0.25, lift+0.5))
	if until-from < 20 {
		return
	}
	edges := a.candidates(from, until)
	d := newDecision(a, edges)
	d.run()
	f.Ascent = d.path()
}

// decision is a dynamic programme under way.
type decision struct {
	a     *axial
	edges []int
	cells []sums // in time, from the first sample of the cell
	speed []sums // prefix sums in speed
	best  [][kinds]float64
	prev  [][kinds]struct {
		edge int
		kind Kind
	}
	excess float64 // m/s2, by which rest differs from gravity
}

func newDecision(a *axial, edges []int) *decision {
	d := &decision{a: a, edges: edges, excess: math.Abs(a.rest - a.g)}
	d.cells, d.speed = make([]sums, len(edges)-1), make([]sums, len(edges))
	for c := range d.cells {
		d.speed[c+1] = d.speed[c]
		for i := edges[c]; i < edges[c+1]; i++ {
			d.cells[c].sample(a.t[i]-a.t[edges[c]], a.x[i])
			d.speed[c+1].sample(a.v[i]/100, a.x[i])
		}
	}
	return d
}

func (d *decision) run() {
	n := len(d.edges)
	d.best = make([][kinds]float64, n)
	d.prev = make([][kinds]struct {
		edge int
		kind Kind
	}, n)
	for j := range d.best {
		for k := range kinds {
			d.best[j][k] = math.Inf(1)
		}
	}
	for i := range n - 1 {
		var s sums
		for j := i + 1; j < n; j++ {
			s.add(&d.cells[j-1], d.time(j-1)-d.time(i))
			for k := range kinds {
				before, was := 0.0, Pad
				if k == Pad && i > 0 {
					continue
				}
				if k != Pad {
					before, was = d.cheapest(i, k)
				}
				if d.a.begun && i == 0 && (k == Boost || k == Coast) {
					before = begunPenalty
				}
				if math.IsInf(before, 1) {
					continue
				}
				if c := before + d.cost(&s, i, j, k); c < d.best[j][k] {
					d.best[j][k] = c
					d.prev[j][k].edge, d.prev[j][k].kind = i, was
				}
			}
		}
	}
}

func (d *decision) time(e int) float64 { return d.a.t[min(d.edges[e], len(d.a.t)-1)] }

// level is the mean felt in the cell that begins at an edge.
func (d *decision) level(e int) float64 { return d.cells[e].b[0]/d.cells[e].n + d.a.rest }

// cheapest gives the cheapest way to be at an edge with a kind that k may follow.
func (d *decision) cheapest(i int, k Kind) (c float64, was Kind) {
	c = math.Inf(1)
	for _, b := range models[k].before {
		if d.best[i][b] < c {
			c, was = d.best[i][b], b
		}
	}
	return c, was
}

// cost is minus the logarithm of the likelihood of a segment, of its length and of its level.
func (d *decision) cost(s *sums, i, j int, k Kind) float64 {
	m := &models[k]
	span := d.time(j) - d.time(i)
	if span < m.least || m.most > 0 && span > m.most || s.n < 2 {
		return math.Inf(1)
	}
	mean := s.b[0]/s.n + d.a.rest
	c := m.penalty
	if m.duration > 0 {
		c -= lognormal(span, m.duration, m.spread)
	}
	p := min(m.terms, int(s.n)-1)
	if k == Shock || k == Pad {
		p = 1
	}
	size := 0.5 * math.Log(s.n)
	switch k {
	case Coast, Apart, Brief:
		first := &d.cells[i]
		if start := first.b[0]/first.n + d.a.rest; start > d.excess+mostCoast+3*m.s0/math.Sqrt(first.n) {
			return math.Inf(1) // the air only brakes
		}
		z := max(mean-d.excess, 0) / biasSD
		c += 0.5*z*z + d.coast(s, i, j, p, size)
	case Boost, Tail:
		if mean < leastThrust || k == Boost && mean < leastBoost*d.a.g {
			return math.Inf(1)
		}
		off := min(shapeShare*mean, shapeMost)
		rss := s.rss(p, span) + s.n*d.a.grain()
		last := &d.cells[j-1]
		if z := (-last.b[0]/last.n - d.a.rest - mostCoast) / math.Sqrt(1+rss/s.n/last.n); z > 0 {
			c += min(0.5*z*z, pullMost) // what burns pushes, but for the last of a tail
		}
		c += -lognormal(mean, thrustMid, thrustSpread) - marginal(s.n, rss+s.n*off*off, m.nu, m.s0) + float64(p)*size
	default:
		if k == Braked && (j == len(d.edges)-1 || mean > d.level(i-1)-brakedLeast || mean > d.level(j)-brakedLeast) {
			return math.Inf(1)
		}
		if k == Pad && d.a.begun && math.Abs(mean-d.a.g) > mostCoast {
			return math.Inf(1)
		}
		c += -marginal(s.n, s.rss(p, span)+s.n*d.a.grain(), m.nu, m.s0) + float64(p)*size
	}
	return c
}

// coast is the cheaper of drag by the rocket's own speed with an offset, and a cubic in time.
func (d *decision) coast(s *sums, i, j, p int, size float64) float64 {
	m := &models[Coast]
	grain := s.n * d.a.grain()
	cubic := cubicPenalty - marginal(s.n, s.rss(p, d.time(j)-d.time(i))+grain, m.nu, m.s0) + float64(p)*size
	v := d.speed[j]
	v.less(&d.speed[i])
	p = min(3, p)
	return min(cubic, -marginal(v.n, v.rss(p, 1)+grain, m.nu, m.s0)+float64(p)*size)
}

// path walks back from the end, which is a coast or a shock.
func (d *decision) path() []Segment {
	j := len(d.edges) - 1
	k := Pad
	for _, x := range []Kind{Coast, Apart, Shock, Boost, Tail} {
		if d.best[j][x] < d.best[j][k] {
			k = x
		}
	}
	var out []Segment
	for j > 0 && !math.IsInf(d.best[j][k], 1) {
		i := d.prev[j][k].edge
		said := k
		if k == Brief {
			said = Coast
		}
		s := Segment{Kind: said, From: d.time(i), Until: d.time(j), first: d.edges[i], last: d.edges[j]}
		d.describe(&s, i, j)
		out = append(out, s)
		k, j = d.prev[j][k].kind, i
	}
	slices.Reverse(out)
	return out
}

func (d *decision) describe(s *Segment, i, j int) {
	var m sums
	for c := i; c < j; c++ {
		m.add(&d.cells[c], d.time(c)-d.time(i))
	}
	p := min(models[s.Kind].terms, int(m.n)-1)
	s.Level = m.b[0]/m.n + d.a.rest
	s.Noise = math.Sqrt(m.rss(p, s.Until-s.From)/max(m.n-float64(p), 1) + 1e-4)
}
