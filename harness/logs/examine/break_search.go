package examine

import (
	"cmp"
	"math"
	"slices"

	"drystage/sim"
)

const mostBreaks = 60

// search explains the jumps of a residual by shapes, the strongest first, and takes what the sensor
// made up out of the channel. real says that a fit belongs to something that happened.
func (e *examiner) search(r, g *signal, real func(fitted) bool) {
	free, along := e.free(r), g == e.accel[0]
	last := false // shifts that stay are judged when all that passes is mended
	left, later := r.edges(r.t[0], e.end), []edge(nil)
	if along { // the drag of half a rocket is no fault
		left = slices.DeleteFunc(left, func(x edge) bool {
			return slices.ContainsFunc(e.parted, func(m float64) bool { return math.Abs(x.t-m) < 4*g.step })
		})
		for _, t := range e.seams { // vibration hides edges from all but the likelihood of whole segments
			if !slices.ContainsFunc(left, func(x edge) bool { return math.Abs(x.t-t) < 12*g.step }) {
				left = append(left, edge{t: t, score: wantedScore})
			}
		}
	}
	for range mostBreaks {
		if len(left) == 0 {
			left, later, last = later, nil, true
		}
		if len(left) == 0 {
			return
		}
		first := left[0]
		f := r.explain(left)
		left = slices.DeleteFunc(left, func(x edge) bool { return math.Abs(x.t-first.t) < 4*g.step })
		f, grown := e.grown(r, f)
		if !grown && first.t > e.top {
			if x, ok := e.grown(r, r.refine(shape{Step, first.t, math.Inf(1)})); ok {
				f, grown = x, true
			}
		}
		if !grown && along && f.ok && math.IsInf(f.b, 1) {
			if !last {
				later = append(later, first)
				continue
			}
			f = e.ended(f)
		}
		if along && f.ok && f.kind == Drift && !grown {
			f = e.prolonged(f)
		}
		own := grown || e.alone(r, f) || r.sure(f) && !(free && (r.swings(f) || !r.persists(f))) && !e.hangs(r, f) && (real == nil || !real(f))
		if f.ok && own && (grown || e.alone(r, f) || !e.moves(r, f)) && !e.common(r, f) {
			e.take(r, g, f)
			left = slices.DeleteFunc(r.again(left, f), func(x edge) bool { return math.Abs(x.t-first.t) < 4*g.step })
			if along {
				e.move() // the speed that others are held against is mended too
			}
		}
	}
}

// moves says that a break is what a rocket does.
func (e *examiner) moves(r *signal, f fitted) bool {
	return e.struck(r, f) || e.rings(r, f) || r.turns(f) || e.leans(r, f) || r.wanders(f) || e.flies(r, f) || e.gusts(r, f) || e.turnsOver(r, f) || e.unfeltBump(r, f) || e.unguided(r, f) || e.misguided(r, f) || e.fixLate(r, f)
}

// fixLate says that a bump of a receiver's height against the barometer's is what being late makes of it at the speed of the flight: by how
// much it is late may change while a filter catches up.
func (e *examiner) fixLate(r *signal, f fitted) bool {
	if r.part != sim.PartGNSS || r.axis != sim.AxisZ || f.kind != Spike || e.vup != nil || e.rise == nil {
		return false
	}
	fastest := 0.0
	for i, j := e.rise.between(f.a, min(f.b, e.top)); i < j; i++ {
		fastest = max(fastest, math.Abs(e.rise.x[i]))
	}
	return math.Abs(f.size) < gnssLag*fastest
}

// unguided says that a bump of a barometer's height is one that a rocket may have flown, where nothing else tells its motion: a
// half-sine of a motor's or a canopy's acceleration.
func (e *examiner) unguided(r *signal, f fitted) bool {
	d := f.b - f.a
	return r.part == sim.PartBaro && e.accel[0] == nil && e.vup == nil && f.kind == Spike && math.Abs(f.size)*math.Pi*math.Pi < unguidedPush*d*d
}

const unguidedPush = 150.0 // m/s2 that motors and canopies accelerate a rocket by; common practice, no source

// turnsOver says that a drift of accelerometer or gyro ends where the rocket's own motion changes.
func (e *examiner) turnsOver(r *signal, f fitted) bool {
	if f.kind != Drift || r.part != sim.PartAccel && r.part != sim.PartGyro {
		return false
	}
	return math.Abs(f.b-e.top) < turnNear || slices.ContainsFunc(e.fires, func(m Moment) bool { return math.Abs(f.b-m.At) < turnNear })
}

const turnNear = 0.2 // s around the apogee in which a rocket turns over

// free says that a channel has motion of its own left, which swings as rockets do.
func (e *examiner) free(r *signal) bool {
	return (r.part == sim.PartAccel || r.part == sim.PartGyro) && r != e.accel[0]
}

// again looks for edges anew around a break that was mended.
func (g *signal) again(left []edge, f fitted) []edge {
	var around []window
	for _, t := range []float64{f.a, f.b} {
		if !math.IsInf(t, 1) {
			around = append(around, window{t - 2*g.margin, t + 2*g.margin})
		}
	}
	if f.b-f.a < 4*g.margin {
		around = []window{{f.a - 2*g.margin, f.b + 2*g.margin}}
	}
	for _, w := range around {
		left = slices.DeleteFunc(left, func(x edge) bool { return x.t > w.from && x.t < w.until })
		left = append(left, g.edges(w.from, w.until)...)
	}
	slices.SortStableFunc(left, func(a, b edge) int { return cmp.Compare(math.Abs(b.score), math.Abs(a.score)) })
	return left
}

// sure says that a fit is far beyond chance, and leaves little but the noise that is around it.
func (g *signal) sure(f fitted) bool {
	left := f.sse / float64(max(f.n-f.params-1, 1))
	gain := (f.none - f.sse) / max(left, g.sigma*g.sigma)
	if !(gain > 40 && math.Abs(f.size) > 6*f.sd) {
		return false
	}
	noise := g.around(f.shape)
	if f.kind == Step && !math.IsInf(f.b, 1) && g.smooth() && math.Abs(f.size) > sharpSigmas*noise && g.jumpsBy(f.a, f.size) && g.jumpsBy(f.b, -f.size) {
		return true // however the channel bends in between
	}
	return left < leftNoise*noise*noise+leftShape*f.none/float64(f.n)
}

const (
	leftNoise = 12.0 // times the variance of the noise around that a fit leaves at most, and
	leftShape = 0.02 // of what it explains: a filter of some samples bends a shape by a tenth of its size
)

// jumpsBy says that a channel changes by a size between two samples.
func (g *signal) jumpsBy(t, size float64) bool {
	return math.Abs(g.jump(t)-size) < jumpShare*math.Abs(size)
}

const jumpShare = 0.2 // of a step's size by which both of its edges may differ from it

// around is the noise in the windows of a shape, in samples of the usual weight: each phase has its own.
func (g *signal) around(s shape) float64 {
	sd := g.sigma
	for _, w := range g.windows(s) {
		i, j := g.between(w.from, w.until)
		x := make([]float64, 0, j-i)
		for k := i; k < j; k++ {
			if !g.mask[k] {
				x = append(x, g.weight(g.t[k])*g.x[k])
			}
		}
		sd = max(sd, noise(x))
	}
	return sd
}

// explain finds the shape that explains the strongest edge best, its partner among the others or not.
func (g *signal) explain(all []edge) fitted {
	first := all[0]
	var tries []shape
	for _, x := range all[1:] {
		a, b := min(first.t, x.t), max(first.t, x.t)
		if b-a < 15 && b-a > 1.5*g.step {
			tries = append(tries, shape{Step, a, b}, shape{Spike, a, b}, shape{Drift, a, b})
		}
		if len(tries) > 45 {
			break
		}
	}
	for _, d := range []float64{3, 6, 12, 24, 60} {
		d *= g.step
		tries = append(tries, shape{Spike, first.t, first.t + d}, shape{Spike, first.t - d, first.t}, shape{Spike, first.t - d/2, first.t + d/2}, shape{Step, first.t, first.t + d}, shape{Step, first.t - d, first.t})
	}
	if f := g.began(first.t); f.ok {
		tries = append(tries, f.shape)
	}
	tries = append(tries, g.lasts(first.t)...)
	tries = append(tries, shape{Step, first.t, math.Inf(1)})
	var best, most [Drift + 1]fitted // of each kind: what leaves least where it looks, and what explains most
	stays := fitted{}
	for _, s := range tries {
		f := g.fit(s, g.windows(s))
		if !f.ok {
			continue
		}
		if math.IsInf(s.b, 1) {
			stays = g.refine(s)
			continue
		}
		if b := &best[s.kind]; !b.ok || g.better(f, *b) {
			*b = f
		}
		if m := &most[s.kind]; !m.ok || f.none-f.sse > m.none-m.sse {
			*m = f
		}
	}
	var finals []fitted
	for k, f := range best {
		if f.ok {
			finals = append(finals, g.refine(f.shape))
		}
		if m := most[k]; m.ok && m.shape != f.shape {
			finals = append(finals, g.refine(m.shape))
		}
	}
	for _, s := range g.likely {
		if min(math.Abs(s.a-first.t), math.Abs(s.b-first.t)) < 4*g.step {
			finals = append(finals, g.refine(s))
		}
	}
	if stays.ok {
		finals = append(finals, stays)
	}
	return g.likeliest(finals)
}

// left is the variance that a fit leaves, over that of noise.
func (g *signal) left(f fitted) float64 {
	return f.sse / float64(max(f.n-f.params-1, 1)) / (g.sigma * g.sigma)
}

// better prefers the fit that leaves less where it looks; of two that leave noise only, the one that
// explains more.
func (g *signal) better(f, than fitted) bool {
	a, b := g.left(f), g.left(than)
	if a < 2 && b < 2 {
		return f.none-f.sse > than.none-than.sse
	}
	return a < b
}

// began finds when a drift began that ends with a jump, by trying beginnings up to 8 s before.
func (g *signal) began(end float64) (best fitted) {
	if g.smooth() {
		ws := []window{{end - 8 - g.margin, end + g.margin}}
		for d := 8 * g.step; d < 8; d *= 1.15 {
			if f := g.fit(shape{Drift, end - d, end}, ws); f.ok && (!best.ok || f.sse < best.sse) {
				best = f
			}
		}
		return best
	}
	for d := 4 * g.margin; d < 8; d += g.margin / 2 {
		s := shape{Drift, end - d, end}
		if f := g.fit(s, g.windows(s)); f.ok && (!best.ok || f.sse/float64(f.n) < best.sse/float64(best.n)) {
			best = f
		}
	}
	return best
}

// lasts gives the steps that fit best of those that end, and that begin, at an instant: the other edge may not stand out.
func (g *signal) lasts(t float64) (out []shape) {
	for _, ends := range []bool{true, false} {
		var best fitted
		for d := max(lastsLeast, 6*g.step); d < lastsMost; d *= lastsGrow {
			s := shape{Step, t, t + d}
			if ends {
				s = shape{Step, t - d, t}
			}
			if f := g.fit(s, g.windows(s)); f.ok && (!best.ok || g.left(f) < g.left(best)) {
				best = f
			}
		}
		if best.ok {
			out = append(out, best.shape)
		}
	}
	return out
}

const (
	lastsLeast = 0.2  // s
	lastsMost  = 6.0  // s
	lastsGrow  = 1.12 // from one length that is tried to the next
)

// likeliest compares shapes on all that any of them looks at, by their squared residuals and the
// number of what each may choose (Schwarz's criterion).
func (g *signal) likeliest(fs []fitted) fitted {
	least := math.Inf(1)
	for _, f := range fs {
		if f.ok {
			least = min(least, g.left(f))
		}
	}
	var shapes []shape
	for _, f := range fs {
		if f.ok && g.left(f) <= 10*max(least, 1) { // what fits badly must not choose where to look
			shapes = append(shapes, f.shape)
		}
	}
	if len(shapes) == 0 {
		return fitted{}
	}
	ws := g.windows(shapes...)
	var best fitted
	least = math.Inf(1)
	for _, s := range shapes {
		f := g.fit(s, ws)
		if !f.ok {
			continue
		}
		params := 3.0
		switch {
		case math.IsInf(s.b, 1):
			params = 2
		case s.kind == Drift: // a polynomial does much of what a ramp does, so its kink has to show
			params += 40 / math.Log(float64(f.n))
		}
		if c := f.sse/(g.sigma*g.sigma) + params*math.Log(float64(f.n)); c < least {
			least, best = c, f
		}
	}
	return best
}

// take makes a finding of a fit, and mends the channel.
func (e *examiner) take(r, g *signal, f fitted) {
	until := f.b
	if math.IsInf(until, 1) {
		until = e.end
	}
	x := Finding{Kind: f.kind, Part: g.part, Axis: g.axis, From: f.a, Until: until, Within: 2 * g.step, Size: f.size, SizeWithin: 2 * f.sd, Strength: math.Abs(f.size) / f.sd}
	for i := range g.x {
		g.x[i] -= f.size * f.value(g.t[i])
	}
	if r != g {
		for i, t := range r.t {
			r.x[i] -= f.size * f.value(t)
			if d := min(math.Abs(t-f.a), math.Abs(t-f.b)); d < r.step && r.step > g.step {
				r.mask[i] = true // a mean over the break
			}
		}
	}
	e.found(x)
	if f.kind == Spike && !e.burning(f.a) {
		g.steep = append(g.steep, window{f.a - g.step, f.b + g.step})
	}
	if g == e.baro && f.kind != Step && math.Abs(f.size) > 50 {
		// A bump of pressure is no such bump of height when it is large, so it can't be mended well.
		g.hide(f.a, until)
	}
}
