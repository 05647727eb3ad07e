package examine

import (
	"math"

	"drystage/sim"
)

// leans says that a break of one axis is the body's turning below a canopy or before it: what all axes feel together is
// as smooth with it as without it.
func (e *examiner) leans(g *signal, f fitted) bool {
	if g.part != sim.PartAccel || e.axes() < 3 || f.a < e.top-turnsOver || math.IsInf(f.b, 1) {
		return false
	}
	if f.kind == Step && g.sharp(f.a, f.size) && g.sharp(f.b, f.size) { // no body turns from one sample to the next
		return false
	}
	i, j := g.between(f.a-3*g.step, f.b+3*g.step)
	before, after := e.felt3(i, j, nil, f, 1), e.felt3(i, j, g, f, 1)
	return j-i < 8 || after > leanShare*before
}

// alone says that one axis made a break up: on the way down, what all axes feel together is far smoother without it. No
// swing, shock or tumbling does that, since they only share out what is felt.
func (e *examiner) alone(g *signal, f fitted) bool {
	if g.part != sim.PartAccel || e.axes() < 3 || f.a < e.top-turnsOver || math.IsInf(f.b, 1) || !f.ok || e.burning(f.a) {
		return false
	}
	if g.axis == axisOf(e.accel[0]) && e.filling(f) { // a canopy pulls along the rocket
		return false
	}
	size := math.Abs(f.size)
	if f.kind == Drift {
		size *= f.b - f.a
	}
	if size < grownLeast || f.b-f.a < 4*g.step || !g.sure(f) {
		return false
	}
	span := max((f.b-f.a)/2, 0.3)
	i, j := g.between(f.a-span, f.b+span)
	return j-i > 16 && e.felt3(i, j, g, f, 1) < aloneShare*e.felt3(i, j, nil, f, 1)
}

const aloneShare = 0.15 // of the variance of what is felt that taking a fault out leaves, where nothing but it is odd

const leanShare = 0.5 // of the variance of what is felt that taking a fault out leaves at most

// felt3 is the variance of the size of what is felt around a polynomial of a degree, with a break taken out of one axis.
func (e *examiner) felt3(i, j int, of *signal, f fitted, degree int) float64 {
	var t, x []float64
	for k := i; k < j; k++ {
		sum := 0.0
		for _, a := range e.accel {
			if k >= len(a.x) {
				return 0
			}
			v := a.x[k]
			if of != nil && a.axis == of.axis {
				v -= f.size * f.value(a.t[k])
			}
			sum += v * v
		}
		t, x = append(t, e.accel[0].t[k]), append(x, math.Sqrt(sum))
	}
	if len(x) < degree+3 {
		return 0
	}
	for range 2 { // a shock counts for no more than feltMost
		m, ok := polynomial(t, x, degree)
		if !ok {
			return 0
		}
		for i := range t {
			x[i] = min(max(x[i], m[i]-feltMost), m[i]+feltMost)
		}
	}
	m, _ := polynomial(t, x, degree)
	sse := 0.0
	for i := range m {
		sse += (x[i] - m[i]) * (x[i] - m[i])
	}
	return sse
}

// polynomial gives the values of a polynomial of a degree through samples, by least squares.
func polynomial(t, x []float64, degree int) (fit []float64, ok bool) {
	mid, half := (t[0]+t[len(t)-1])/2, max((t[len(t)-1]-t[0])/2, 1e-9)
	m, row := newNormal(degree+1), make([]float64, degree+1)
	rows := func(k int) {
		p := 1.0
		for d := range row {
			row[d] = p
			p *= (t[k] - mid) / half
		}
	}
	for k := range t {
		rows(k)
		m.add(row, x[k])
	}
	c, ok := m.solve()
	if !ok {
		return nil, false
	}
	fit = make([]float64, len(t))
	for k := range t {
		rows(k)
		fit[k] = dot(row, c)
	}
	return fit, true
}

const settles = 4 // degree of a polynomial for what a canopy's pull dies away to, or a tumbling body meets, in some seconds

// calm is the stretch around an instant in which nothing opens or fills: what all axes feel together changes slowly there.
func (e *examiner) calm(at, most float64) window {
	w := window{max(at-most, e.top), at + most}
	for _, m := range e.fires {
		if m.Event != Deployment {
			continue
		}
		if filled := m.At + m.Within + fills; filled < at-calmLeast {
			w.from = max(w.from, filled)
		}
		if begins := m.At - m.Within; begins > at+calmLeast {
			w.until = min(w.until, begins)
		}
	}
	if e.down > at+calmLeast {
		w.until = min(w.until, e.down-beforeGround)
	}
	return w
}

const calmLeast = 0.3 // s on each side of an instant that are looked at anyway

const feltMost = 8.0 // m/s2 from the line of what is felt, beyond which a sample is a shock's

const (
	grownLeast = 8.0 // m/s2 of a jump on the way down, which no body does at once without a shock
	grownMost  = 4.0 // s that a drift before it may last
	grownSpan  = 2.0 // s around it in which the size of what is felt is looked at
)

// grown looks at a jump of one axis on the way down that stays: when all axes together feel the same before and after, it
// is the end of a drift, or an edge of a step whose other one is lost in the swing. How long that lasted, the size of what
// all of them feel tells.
func (e *examiner) grown(g *signal, f fitted) (fitted, bool) {
	end, jump := f.a, f.size
	if f.kind == Drift && !math.IsInf(f.b, 1) {
		end, jump = f.b, -f.size*(f.b-f.a)
	} else if !math.IsInf(f.b, 1) {
		return f, false
	}
	if g.part != sim.PartAccel || e.axes() < 3 || !f.ok || end < e.top+turnNear || math.Abs(jump) < grownLeast || e.inShock(end, end) || e.filling(fitted{shape: shape{Drift, end, end}}) {
		return f, false
	}
	w := e.calm(end, grownMost+grownSpan)
	i, j := g.between(w.from, w.until)
	least := leanShare * e.felt3(i, j, nil, f, settles)
	found := false
	for d := 0.2; d < grownMost; d *= 1.1 {
		tries := []fitted{{shape: shape{Drift, end - d, end}, size: -jump / d}}
		if f.kind != Drift {
			tries = append(tries, fitted{shape: shape{Step, end - d, end}, size: -jump}, fitted{shape: shape{Step, end, end + d}, size: jump})
		}
		for _, x := range tries {
			if left := e.felt3(i, j, g, x, settles); left < least {
				x.n, x.params, x.ok = f.n, f.params, true
				x.sd = math.Sqrt(left/float64(max(j-i, 1))) * math.Abs(x.size/jump)
				least, f, found = left, x, true
			}
		}
	}
	if found && f.kind == Step { // both edges are sharp
		if x := g.refine(f.shape); x.ok {
			f = x
		}
	}
	return f, found
}
