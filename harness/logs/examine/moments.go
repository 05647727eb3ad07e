package examine

import (
	"cmp"
	"math"
	"slices"

	"drystage/sim"
)

// moments finds when the phases begin. What the accelerometer feels tells motors to a sample; where
// it is missing, the speed by the others tells them to some tenths of a second.
func (e *examiner) moments() {
	e.motors()
	e.landing()
	e.chutes()
	slices.SortStableFunc(e.res.Moments, func(a, b Moment) int { return cmp.Compare(a.At, b.At) })
}

// filterLate is by how many samples an accelerometer's own filter, or the mean that a board takes of several samples, may be late,
// expanded: filters at a quarter to half of the rate; common practice, no source.
const filterLate = 1.0

func (e *examiner) moment(event string, number int, at, within float64, from string) {
	if a := e.accel[0]; a != nil {
		within = math.Hypot(within, filterLate*a.step)
	}
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

// doubt widens an uncertainty by what is missing around a time.
func (e *examiner) doubt(a *signal, t, within float64) float64 {
	if from, until, ok := a.missing(t, 0.5); ok {
		return within + until - from
	}
	return within
}

// unseen is a time with its uncertainty; where the samples at it are missing, it lies anywhere among them.
func (e *examiner) unseen(a *signal, t, within float64) (at, w float64) {
	if from, until, ok := a.missing(t, max(within, 2*a.step)); ok {
		return (from + until) / 2, (until-from)/2 + within
	}
	return t, e.doubt(a, t, within)
}

// missing gives the longest stretch without a sample that tells something, of those that reach within a time of an instant.
func (g *signal) missing(t, near float64) (from, until float64, ok bool) {
	last := -1 // the last sample that tells something
	for i := max(g.index(t-near)-1, 0); i >= 0; i-- {
		if !g.lost(i) {
			last = i
			break
		}
	}
	for i := max(last+1, 0); i < len(g.t); i++ {
		if g.lost(i) {
			continue
		}
		if last >= 0 && g.t[i]-g.t[last] > 2.5*g.step && g.t[i]-g.t[last] > until-from {
			from, until, ok = g.t[last], g.t[i], true
		}
		if last = i; g.t[i] > t+near {
			break
		}
	}
	return from, until, ok
}

// carried says that the speed by the other sensors does not deny a boost. That they tell of more is no denial: what lies beyond the
// accelerometer's range, or among lost samples, is not felt.
func (e *examiner) carried(from, until, v float64) bool {
	got, sd := e.parity(from, until)
	return sd == 0 || got > -0.6*v-3*sd
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
