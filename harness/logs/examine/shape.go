package examine

import (
	"math"
	"slices"

	"drystage/sim"
)

// shape is what a fault adds to a channel, for a size of 1.
type shape struct {
	kind Kind
	a, b float64 // s; b may be +Inf for a step that stays
}

func (s shape) value(t float64) float64 {
	if t < s.a || t >= s.b {
		return 0
	}
	switch s.kind {
	case Spike:
		return math.Sin(math.Pi * (t - s.a) / (s.b - s.a))
	case Drift:
		return t - s.a
	}
	return 1
}

// window is a stretch of time that a fit looks at.
type window struct{ from, until float64 }

// windows gives the surroundings of a shape's breaks; near ones become one. Channels whose signal is
// smooth in between are looked at as a whole.
func (g *signal) windows(shapes ...shape) []window {
	var ws []window
	for _, s := range shapes {
		from, until := g.room(s)
		switch {
		case math.IsInf(s.b, 1):
			ws = append(ws, window{from, g.clear(s.a, s.a+g.margin, s.kind)})
		case g.smooth() && s.b-s.a < 12 || s.b-s.a < 3*g.margin && (s.kind != Step || s.b-s.a < g.margin):
			ws = append(ws, window{from, until})
		case s.b-s.a < 2*g.margin: // both edges of a step, each with its own surroundings
			mid := (s.a + s.b) / 2
			ws = append(ws, window{from, mid - g.step/2}, window{mid + g.step/2, until})
		default:
			ws = append(ws, window{from, g.clear(s.a, s.a+g.margin, s.kind)}, window{-g.clear(-s.b, g.margin-s.b, s.kind), until})
		}
	}
	slices.SortFunc(ws, func(x, y window) int {
		if x.from < y.from {
			return -1
		}
		return 1
	})
	out := ws[:1]
	for _, w := range ws[1:] {
		if last := &out[len(out)-1]; w.from <= last.until {
			last.until = max(last.until, w.until)
		} else {
			out = append(out, w)
		}
	}
	return out
}

// room is how far around a shape a fit may look: no further than the margin, nor than a moment at which
// the rocket's own motion breaks.
func (g *signal) room(s shape) (from, until float64) {
	return -g.clear(-s.a, g.margin-s.a, s.kind), g.clear(s.b, s.b+g.margin, s.kind)
}

// clear is how far from an instant a fit may look without crossing a fence; of negative times it looks back. Both ends of a
// step may have been taken for the rocket's own.
func (g *signal) clear(at, until float64, k Kind) float64 {
	own := 0.0
	if k == Step {
		own = fenceOwn * g.step
	}
	for _, m := range g.fences {
		if at < 0 {
			m = -m
		}
		if m > at+own {
			until = min(until, m-g.step)
		}
	}
	return until
}

const fenceOwn = 3.0 // samples

// smoothStep is the least time between samples, in s, of a channel that is looked at as a whole between its breaks: more
// often, that takes too long.
const smoothStep = 0.015

// thinned gives means of neighbours of a residual that changes slowly, so many that it is looked at as a whole: of a fast
// channel the few samples beside each break don't tell the slope of a drift. It may be nil.
func (g *signal) thinned() *signal {
	if g == nil || g.step <= 0 || g.step > smoothStep {
		return g
	}
	k := int(smoothStep/g.step) + 1
	out := *g
	out.t, out.x, out.mask, out.step = nil, nil, nil, float64(k)*g.step
	for i := 0; i < len(g.x); {
		var t, x float64
		n, j := 0, i
		for ; j < len(g.x) && j < i+k && g.t[j]-g.t[i] < out.step; j++ {
			if !g.mask[j] {
				t, x, n = t+g.t[j], x+g.x[j], n+1
			}
		}
		if n == 0 {
			t, x = g.t[i], g.x[i]
		}
		out.t, out.x, out.mask = append(out.t, t/float64(max(n, 1))), append(out.x, x/float64(max(n, 1))), append(out.mask, n == 0)
		i = j
	}
	out.sigma, out.margin = noise(out.x), g.margin/g.step*out.step
	return &out
}

// smooth says that the channel is a residual that has no dynamics of its own left.
func (g *signal) smooth() bool {
	return g.step > smoothStep && g.part != sim.PartAccel && g.part != sim.PartGyro
}

// fitted is the outcome of a fit of a shape with a polynomial of its own in each window.
type fitted struct {
	shape
	size, sd  float64
	sse, none float64 // sum of squared residuals with and without the shape
	n, params int
	ok        bool
}

// fit fits a shape's size by least squares.
func (g *signal) fit(s shape, ws []window) fitted {
	f := fitted{shape: s}
	// The shape's part that no polynomial can tell is r, and the data's is y: size = r.y / r.r.
	var ry, rr, yy float64
	for _, w := range ws {
		i, j := g.between(w.from, w.until)
		deg := 2
		if w.until-w.from > 8*g.margin {
			deg = 3
		}
		if j-i < deg+3 {
			continue
		}
		y, r, n := g.residuals(s, w, i, j, deg)
		for k := range y {
			ry += y[k] * r[k]
			rr += r[k] * r[k]
			yy += y[k] * y[k]
		}
		f.n += n
		f.params += deg + 1
	}
	if rr < 1e-12 || f.n < f.params+3 {
		return f
	}
	f.size, f.none = ry/rr, yy
	f.sse = yy - ry*ry/rr
	f.sd = math.Sqrt(max(g.sigma*g.sigma, f.sse/float64(f.n-f.params-1)) / rr)
	f.ok = true
	return f
}

// residuals gives what a polynomial of a degree leaves of the data and of the shape in a window.
func (g *signal) residuals(s shape, w window, i, j, deg int) (y, r []float64, n int) {
	mid, half := (w.from+w.until)/2, (w.until-w.from)/2
	slab := make([]float64, (deg+3)*(j-i)) // room for all of it at once
	room := func() []float64 {
		head := slab[: 0 : j-i]
		slab = slab[j-i:]
		return head
	}
	basis := make([][]float64, deg+1)
	for d := range basis {
		basis[d] = room()
	}
	y, r = room(), room()
	for k := i; k < j; k++ {
		if g.mask[k] {
			continue
		}
		u, p := (g.t[k]-mid)/half, g.weight(g.t[k])
		y, r = append(y, p*g.x[k]), append(r, p*s.value(g.t[k]))
		for d := range basis {
			basis[d] = append(basis[d], p)
			p *= u
		}
	}
	n = len(y)
	// Gram-Schmidt, twice for good measure.
	for d := range basis {
		for range 2 {
			for e := range d {
				reject(basis[d], basis[e])
			}
		}
		norm := math.Sqrt(dot(basis[d], basis[d]))
		if norm < 1e-9 {
			clear(basis[d])
			continue
		}
		for k := range basis[d] {
			basis[d][k] /= norm
		}
		reject(y, basis[d])
		reject(r, basis[d])
	}
	return y, r, n
}

func dot(a, b []float64) (s float64) {
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

// reject takes the part along b, of length 1, out of a.
func reject(a, b []float64) {
	c := dot(a, b)
	for i := range a {
		a[i] -= c * b[i]
	}
}

// refine moves a shape's ends to where it fits best, within a fixed window.
func (g *signal) refine(s shape) fitted {
	ws := g.windows(s)
	best := g.fit(s, ws)
	d := s.b - s.a
	if math.IsInf(d, 1) {
		d = 8 * g.step
	}
	for step := max(d/4, 2*g.step); step >= g.step/4; step /= 2 {
		for range 4 {
			was := best.sse
			for _, m := range [][2]float64{{-step, 0}, {step, 0}, {0, -step}, {0, step}, {-step, -step}, {step, step}} {
				t := best.shape
				t.a += m[0]
				t.b += m[1]
				if t.b-t.a < 1.5*g.step || t.a < ws[0].from || !math.IsInf(t.b, 1) && t.b > ws[len(ws)-1].until {
					continue
				}
				if f := g.fit(t, ws); f.ok && (!best.ok || f.sse < best.sse) {
					best = f
				}
			}
			if !(best.sse < was) {
				break
			}
		}
	}
	return best
}
