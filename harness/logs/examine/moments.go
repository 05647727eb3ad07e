package examine

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"drystage/sim"
)

// rough finds about when the rocket is highest: the median of what each sensor says, so that one
// that is wrong is outvoted.
func (e *examiner) rough() {
	e.lift, e.top = e.padEnd, e.end
	var says []float64
	for _, v := range []*signal{e.vup, e.rise} {
		if v == nil {
			continue
		}
		if t, ok := turns(v, e.lift+1); ok {
			says = append(says, t)
		}
	}
	if g := e.baro; g != nil {
		most, at := math.Inf(-1), e.end
		for i := 12; i+12 < len(g.x); i += 2 {
			if m := median(g.x[i-12 : i+13]); m > most {
				most, at = m, g.t[i]
			}
		}
		says = append(says, at)
	}
	slices.Sort(says)
	if n := len(says); n > 0 {
		e.top = says[n/2]
		if n == 2 {
			e.top = says[0]
		}
	}
}

// turns gives when a speed is below 0 for the first time, for a quarter of a second.
func turns(v *signal, from float64) (float64, bool) {
	n := max(3, int(0.25/v.period()))
	below := 0
	for i := v.index(from); i < len(v.x); i++ {
		if v.mask != nil && v.mask[i] {
			continue
		}
		if v.x[i] < 0 {
			below++
		} else {
			below = 0
		}
		if below == n {
			return v.t[max(i-n, 0)], true
		}
	}
	return 0, false
}

// period is the usual time between samples.
func (g *signal) period() float64 {
	if g.step > 0 {
		return g.step
	}
	return max((g.t[len(g.t)-1]-g.t[0])/float64(max(len(g.t)-1, 1)), 1e-6)
}

// moments finds when the phases begin. What the accelerometer feels tells motors to a sample; where
// it is missing, the speed by the others tells them to some tenths of a second.
func (e *examiner) moments() {
	e.motors()
	e.apogee()
	e.chutes()
	e.landing()
	slices.SortStableFunc(e.res.Moments, func(a, b Moment) int { return cmp.Compare(a.At, b.At) })
}

func (e *examiner) moment(event string, number int, at, within float64, from string) {
	e.res.Moments = append(e.res.Moments, Moment{event, number, at, within, from})
}

// moment's first of a kind.
func (r *Result) first(event string) (Moment, bool) {
	i := slices.IndexFunc(r.Moments, func(m Moment) bool { return m.Event == event })
	if i < 0 {
		return Moment{}, false
	}
	return r.Moments[i], true
}

// thrust is a stretch in which a motor pushes.
type thrust struct{ i, j int }

// motors finds boosts: on the way up, the accelerometer reads above 0 along the rocket only while a
// motor burns, since the air pushes back.
func (e *examiner) motors() {
	a := e.accel[0]
	if a == nil {
		by, open := e.byHeight()
		e.moment(Liftoff, 0, e.lift, 1+open, by)
		return
	}
	x := bridge(a)
	for i := range x {
		x[i] -= e.accelOff
	}
	boosts := e.boosts(x)
	for n, b := range boosts {
		if n == 0 {
			e.moment(Liftoff, 0, a.t[e.rises(x, b.i, e.onPad(x))], e.doubt(a, a.t[b.i], 2*a.step), "the accelerometer")
		} else {
			i := e.rises(x, b.i, x[max(b.i-max(int(0.1/a.step), 4), 0)])
			e.moment(Ignition, n+1, a.t[i], e.doubt(a, a.t[i], 2*a.step), "the accelerometer")
		}
		t := e.burnout(a, x, b)
		e.moment(Burnout, n+1, t, e.doubt(a, t, 0.04), "the accelerometer")
	}
	for n := range boosts {
		until := e.top - 0.5
		if n+1 < len(boosts) {
			until = a.t[boosts[n+1].i] - 0.05
		}
		e.separation(a, a.t[boosts[n].j], until)
	}
}

func (e *examiner) onPad(x []float64) float64 {
	n := e.accel[0].index(e.padEnd - 0.3)
	return median(x[:max(n, 1)])
}

// doubt widens an uncertainty by what is masked around a time.
func (e *examiner) doubt(a *signal, t, within float64) float64 {
	i, j := a.between(t-0.5, t+0.5)
	for ; i < j; i++ {
		if a.mask[i] {
			from, until := i, i
			for from > 0 && a.mask[from-1] {
				from--
			}
			for until+1 < len(a.mask) && a.mask[until+1] {
				until++
			}
			return within + a.t[until] - a.t[from]
		}
	}
	return within
}

const (
	pushes  = 2.0 // m/s2 along the rocket in free flight that only a motor gives
	impulse = 4.0 // m/s that a boost gives at least
)

func (e *examiner) boosts(x []float64) []thrust {
	a := e.accel[0]
	var out []thrust
	rest := e.onPad(x)
	i := a.index(e.padEnd - 0.2)
	level := rest + 3
	for i < len(x) && a.t[i] < e.top {
		if x[i] <= level {
			i++
			continue
		}
		j, v, low := i, 0.0, 0
		for ; j < len(x)-1 && a.t[j] < e.top && low < 4; j++ {
			v += x[j] * (a.t[j+1] - a.t[j])
			if x[j] <= pushes {
				low++
			} else {
				low = 0
			}
		}
		j -= low
		if v > impulse && e.carried(a.t[i], a.t[min(j, len(a.t)-1)], v) {
			if n := len(out); n > 0 && a.t[i]-a.t[out[n-1].j] < 0.15 {
				out[n-1].j = j
			} else {
				out = append(out, thrust{i, j})
			}
		}
		i, level = j+1, pushes
	}
	return out
}

// carried says that the speed by the other sensors does not deny a boost.
func (e *examiner) carried(from, until, v float64) bool {
	got, sd := e.parity(from, until)
	return sd == 0 || math.Abs(got) < 0.6*v+3*sd
}

// rises goes back from a sample to the first that stands out from what was before.
func (e *examiner) rises(x []float64, i int, before float64) int {
	a := e.accel[0]
	for i > 1 && (x[i-1]-before > 5*a.sigma+0.02*math.Abs(before) || x[i-2]-before > 5*a.sigma+0.02*math.Abs(before)) {
		i--
	}
	return i
}

// burnout is the kink at which the fall of thrust ends: two straight lines are fitted around it.
func (e *examiner) burnout(a *signal, x []float64, b thrust) float64 {
	from, until := max(b.j-int(0.12/a.step), b.i+3), min(b.j+int(0.35/a.step), len(x)-6)
	best, most := b.j, 0.0
	arm := max(int(0.06/a.step), 5)
	for k := from; k < until; k++ {
		lo, hi := max(k-arm, b.i), min(k+arm, len(x)-1)
		left, sl := straight(a.t[lo:k+1], x[lo:k+1])
		right, sr := straight(a.t[k:hi+1], x[k:hi+1])
		one, _ := straight(a.t[lo:hi+1], x[lo:hi+1])
		// It falls on the left and is flatter on the right; two lines do most for the fit at the kink.
		if gain := one - left - right; sl < sr-20 && gain > most {
			most, best = gain, k
		}
	}
	return a.t[best]
}

// straight gives the squared residuals of a straight line and its slope.
func straight(t, x []float64) (sse, slope float64) {
	n := float64(len(t))
	var mt, mx, stt, stx, sxx float64
	for i := range t {
		mt += t[i] / n
		mx += x[i] / n
	}
	for i := range t {
		stt += (t[i] - mt) * (t[i] - mt)
		stx += (t[i] - mt) * (x[i] - mx)
		sxx += (x[i] - mx) * (x[i] - mx)
	}
	if stt == 0 {
		return 0, 0
	}
	return sxx - stx*stx/stt, stx / stt
}

// separation is a step of the drag felt between a burnout and the next motor: half a rocket has
// another mass and another drag.
func (e *examiner) separation(a *signal, from, until float64) {
	var best edge
	for _, x := range a.edges(from+0.08, until) {
		if x.taps <= 12 && math.Abs(x.jump) > 0.5 && math.Abs(x.score) > math.Abs(best.score) {
			best = x
		}
	}
	if best.score != 0 {
		e.moment(Separation, 0, best.t, 2*a.step, fmt.Sprintf("a step of %.1f m/s2 in the drag felt", best.jump))
	}
}

// apogee is where the speed passes 0: by GNSS and accelerometer together, or by the barometer's
// parabola.
func (e *examiner) apogee() {
	if e.vup != nil {
		if t, sd, ok := zero(e.vup, e.top, 1.5); ok {
			_, open := e.byHeight()
			e.moment(Apogee, 0, t, 2*sd+open, "GNSS speed")
			return
		}
	}
	if e.baro != nil {
		if t, sd, ok := summit(e.baro, e.top); ok {
			by, open := e.byHeight()
			e.moment(Apogee, 0, t, 2*sd+2*open, by)
			return
		}
	}
	if e.rise != nil {
		for i := e.rise.index(e.lift + 1); i < len(e.rise.x); i++ {
			if e.rise.x[i] < 0 {
				e.moment(Apogee, 0, e.rise.t[i], 1, "the accelerometer alone")
				return
			}
		}
	}
}

// zero fits a straight line to a speed around a time and gives where it is 0.
func zero(v *signal, near, span float64) (t, sd float64, ok bool) {
	for range 4 {
		i, j := v.between(near-span, near+span/4)
		var x, y []float64
		for k := i; k < j; k++ {
			if !v.mask[k] {
				x, y = append(x, v.t[k]-near), append(y, v.x[k])
			}
		}
		if len(x) < 5 {
			return 0, 0, false
		}
		sse, slope := straight(x, y)
		if slope > -2 {
			return 0, 0, false
		}
		mx, my := average(x), average(y)
		at := mx - my/slope
		sd = math.Sqrt(max(sse/float64(len(x)-2), v.sigma*v.sigma)/float64(len(x))) / -slope * (1 + math.Abs(at-mx)/span)
		near += at
		if math.Abs(at) < 0.02 {
			return near, sd, true
		}
	}
	return near, sd, true
}

func average(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v / float64(len(x))
	}
	return s
}

// summit fits a parabola of height against time around the highest sample.
func summit(b *signal, near float64) (t, sd float64, ok bool) {
	i, j := b.between(near-2, near+0.3)
	var h [3]float64
	var n int
	var m [3][3]float64
	for k := i; k < j; k++ {
		if b.mask[k] {
			continue
		}
		u := b.t[k] - near
		p := [3]float64{1, u, u * u}
		for r := range p {
			h[r] += p[r] * b.x[k]
			for c := range p {
				m[r][c] += p[r] * p[c]
			}
		}
		n++
	}
	c, ok := solve3(m, h)
	if n < 20 || !ok || c[2] > -1 {
		return 0, 0, false
	}
	return near - c[1]/(2*c[2]), b.sigma / 2 / math.Sqrt(float64(n)) / -c[2] * 3, true
}

// solve3 solves three equations by Cramer's rule.
func solve3(m [3][3]float64, y [3]float64) (x [3]float64, ok bool) {
	det := func(m [3][3]float64) float64 {
		return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
	}
	d := det(m)
	if math.Abs(d) < 1e-12 {
		return x, false
	}
	for c := range x {
		k := m
		for r := range y {
			k[r][c] = y[r]
		}
		x[c] = det(k) / d
	}
	return x, true
}

// axisOf gives a body axis' word in the log's own axes.
func axisOf(g *signal) sim.Axis { return g.axis }
