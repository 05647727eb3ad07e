package phases

import (
	"math"
	"slices"
)

// voice is what one channel says of the apogee: a time, its standard deviation, and the chance that
// the channel is wrong altogether.
type voice struct{ at, sd, wrong float64 }

const (
	heightSD, heightWrong    = 0.25, 0.05 // s: a smoothed pressure near its top
	gnssSD, gnssWrong        = 0.5, 0.2   // s: latency is part of it
	speedSD, speedShare      = 1.0, 0.07  // s and share of the time since liftoff: bias, tilt, clipping
	speedWrong               = 0.2
	apogeeBefore, apogeePast = 4.0, 0.25 // s around the apogee in which height tells it
)

// vote asks every channel for the apogee and takes the time that all of them together find likeliest
// (logarithmic pool, Genest and Zidek 1986, Combining probability distributions).
func vote(l Log, a *axial, lift, end float64) float64 {
	var vs []voice
	if t, ok := highest(l.Height, lift, 0.5); ok {
		vs = append(vs, voice{t, heightSD, heightWrong})
	}
	if t, ok := highest(l.GNSSHeight, lift, 1); ok {
		vs = append(vs, voice{t, gnssSD, gnssWrong})
	}
	if t, ok := crossing(l.GNSSSpeed, lift+1); ok {
		vs = append(vs, voice{t, gnssSD, gnssWrong})
	}
	if a != nil && !l.Begun {
		if t, ok := a.turns(lift); ok {
			vs = append(vs, voice{t, speedSD + speedShare*(t-lift), speedWrong})
		}
	}
	if len(vs) == 0 {
		return end
	}
	best, most := end, math.Inf(-1)
	for _, c := range vs {
		for d := -2.0; d <= 2; d += 0.05 {
			p := 0.0
			for _, v := range vs {
				z := (c.at + d - v.at) / v.sd
				p += math.Log((1-v.wrong)*math.Exp(-0.5*z*z)/(v.sd*math.Sqrt(2*math.Pi)) + v.wrong/(end-lift+1))
			}
			if p > most {
				most, best = p, c.at+d
			}
		}
	}
	return best
}

// highest gives the middle of where a channel's running median is greatest.
func highest(s Series, lift, span float64) (float64, bool) {
	s = s.good()
	if len(s.T) < 10 {
		return 0, false
	}
	n := max(int(span/step(s.T)), 5)
	most, at := math.Inf(-1), 0.0
	for i := sorted(s.T, lift); i+n <= len(s.T); i += max(n/8, 1) {
		if x := s.X[i : i+n]; above(x, most) >= n-n/2 { // else its median isn't greater
			most, at = median(x), (s.T[i]+s.T[i+n-1])/2
		}
	}
	return at, !math.IsInf(most, -1)
}

// above counts the values beyond a level.
func above(x []float64, level float64) (n int) {
	for _, v := range x {
		if v > level {
			n++
		}
	}
	return n
}

// good leaves the bad samples out.
func (s Series) good() Series {
	if s.Bad == nil || !slices.Contains(s.Bad, true) {
		return Series{T: s.T, X: s.X}
	}
	var o Series
	for i := range s.T {
		if !s.Bad[i] {
			o.T, o.X = append(o.T, s.T[i]), append(o.X, s.X[i])
		}
	}
	return o
}

// crossing gives where a speed goes through 0 after it was greatest.
func crossing(s Series, from float64) (float64, bool) {
	s = s.good()
	n := 5
	if len(s.T) < 2*n {
		return 0, false
	}
	i := sorted(s.T, from)
	for ; i+n <= len(s.T); i++ {
		if median(s.X[i:i+n]) < 0 {
			return s.T[i+n/2], true
		}
	}
	return 0, false
}

// turns gives where the speed by the accelerometer goes through 0 on the way down.
func (a *axial) turns(lift float64) (float64, bool) {
	i := sorted(a.t, lift)
	if i >= len(a.v) {
		return 0, false
	}
	base, most := a.v[max(i-1, 0)], 0.0
	for ; i < len(a.v); i++ {
		most = max(most, a.v[i]-base)
		if most > 5 && a.v[i] < base {
			return a.t[i], true
		}
	}
	return 0, false
}

// apogee refines the time that the channels voted for.
func apogee(l Log, near, lift float64) (Edge, string) {
	if e, ok := parabola(l.Height, &l, near, lift); ok {
		return e, "the barometer"
	}
	if e, ok := parabola(l.GNSSHeight, &l, near, lift); ok {
		e.SD = math.Hypot(e.SD, 0.1)
		return e, "GNSS height"
	}
	if e, ok := ballistic(l.Height, l.Gravity, near, lift); ok {
		return e, "the barometer"
	}
	if e, ok := ballistic(l.GNSSHeight, l.Gravity, near, lift); ok {
		e.SD = math.Hypot(e.SD, 0.1)
		return e, "GNSS height"
	}
	return Edge{near, 0.5}, "what the channels say together"
}

// parabola fits height against time, with the acceleration known as far as it is: gravity, and what was
// felt upwards beside it. The residuals have Student's distribution with 4 degrees of freedom (Lange,
// Little and Taylor 1989, Robust statistical modeling using the t distribution), by reweighting.
func parabola(s Series, l *Log, near, lift float64) (Edge, bool) {
	s = s.good()
	i, j := sorted(s.T, max(near-apogeeBefore, lift+0.5)), sorted(s.T, near+apogeePast)
	if j-i < 8 {
		return Edge{}, false
	}
	t, y := s.T[i:j], make([]float64, j-i)
	v, way := l.felt(t, near)
	mid, spread := unknownFelt, unknownFeltSD
	if len(l.Upward.T) > 0 {
		mid, spread = 0, feltSD
	}
	spread = math.Hypot(spread, scaleSD*l.Gravity)
	g := l.Gravity + mid
	for k := range t {
		u := t[k] - near
		y[k] = s.X[i+k] + g*u*u/2 - way[k]
	}
	w := make([]float64, len(t))
	for k := range w {
		w[k] = 1
	}
	var x [3]float64
	var sd float64
	scale := madSigma * median(differences(y)) / math.Sqrt2
	for range 20 {
		scale = max(scale, 1e-3)
		f := parabolaFit{t: t, y: y, w: w, near: near, prior: scale * scale / (spread * spread)}
		var ok bool
		if x, sd, ok = f.solve(); !ok {
			return Edge{}, false
		}
		var r []float64
		for k := range t {
			u := t[k] - near
			r = append(r, math.Abs(y[k]-x[0]-x[1]*u-x[2]*u*u/2))
		}
		scale = max(madSigma*median(r), 1e-3)
		for k := range w {
			w[k] = 5 / (4 + r[k]*r[k]/(scale*scale))
		}
	}
	sd *= scale
	// The speed is x1 + felt - (g - x2) u; its zero is the apogee.
	at := 0.0
	for range 8 {
		at = (x[1] + interpolate(t, v, near+at)) / (g - x[2])
	}
	if math.Abs(at) > 2 || g-x[2] < 1 {
		return Edge{}, false
	}
	return Edge{near + at, sd / g}, true
}

const (
	feltSD        = 0.3  // m/s2, of what is felt upwards near the apogee: bias and tilt
	scaleSD       = 0.05 // of a height by pressure: the air is 15 K warmer or colder than taken
	unknownFelt   = 0.3  // m/s2 of drag in the seconds before an apogee, when the tilt is not known
	unknownFeltSD = 0.6  // m/s2
)

func differences(y []float64) (d []float64) {
	for k := 1; k < len(y); k++ {
		d = append(d, math.Abs(y[k]-y[k-1]))
	}
	return d
}

// parabolaFit is a weighted fit of a parabola whose curvature is known to a prior, in squared residuals.
type parabolaFit struct {
	t, y, w     []float64
	near, prior float64
}

// solve gives the coefficients, and the standard deviation of the slope for residuals of 1.
func (f *parabolaFit) solve() (x [3]float64, sd float64, ok bool) {
	var m [3][3]float64
	var b [3]float64
	for k := range f.t {
		u := f.t[k] - f.near
		row := [3]float64{1, u, u * u / 2}
		for r := range row {
			b[r] += f.w[k] * row[r] * f.y[k]
			for c := range row {
				m[r][c] += f.w[k] * row[r] * row[c]
			}
		}
	}
	m[2][2] += f.prior
	inverse, ok := inverted(m)
	if !ok {
		return x, 0, false
	}
	for r := range x {
		for c := range b {
			x[r] += inverse[r][c] * b[c]
		}
	}
	return x, math.Sqrt(inverse[1][1]), true
}

// inverted gives the inverse of a symmetric positive definite matrix, by Gauss and Jordan in place; false: it is none.
func inverted(m [3][3]float64) ([3][3]float64, bool) {
	for c := range m {
		p := m[c][c]
		if !(p > 0) || math.IsInf(p, 0) {
			return m, false
		}
		m[c][c] = 1
		for j := range m {
			m[c][j] /= p
		}
		for i := range m {
			if i == c {
				continue
			}
			f := m[i][c]
			m[i][c] = 0
			for j := range m {
				m[i][j] -= f * m[c][j]
			}
		}
	}
	return m, true
}

// felt integrates what was felt upwards once and twice, from an instant on.
func (l *Log) felt(t []float64, near float64) (v, h []float64) {
	v, h = make([]float64, len(t)), make([]float64, len(t))
	s := l.Upward
	if len(s.T) == 0 {
		return v, h
	}
	f := make([]float64, len(t))
	for k := range t {
		if i := sorted(s.T, t[k]); t[k] <= near {
			f[k] = median(s.X[max(i-2, 0):min(i+3, len(s.X))])
		}
	}
	for k := 1; k < len(t); k++ {
		v[k] = v[k-1] + (f[k]+f[k-1])/2*(t[k]-t[k-1])
	}
	end := interpolate(t, v, near)
	for k := range v {
		v[k] -= end
	}
	for k := 1; k < len(t); k++ {
		h[k] = h[k-1] + (v[k]+v[k-1])/2*(t[k]-t[k-1])
	}
	return v, h
}

func interpolate(t, x []float64, at float64) float64 {
	i := sorted(t, at)
	switch {
	case i == 0:
		return x[0]
	case i >= len(t):
		return x[len(x)-1]
	}
	f := (at - t[i-1]) / (t[i] - t[i-1])
	return x[i-1] + f*(x[i]-x[i-1])
}
