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

// What tells an apogee.
const (
	byBarometer = "the barometer"
	byReceiver  = "GNSS height"
)

// apogee refines the time that the channels voted for.
func apogee(l Log, near, lift float64) (Edge, string) {
	if e, ok := parabola(l.Height, &l, near, lift); ok {
		return e, byBarometer
	}
	if e, ok := parabola(l.GNSSHeight, &l, near, lift); ok {
		e.SD = math.Hypot(e.SD, 0.1)
		return e, byReceiver
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
// felt upwards beside it, or what drag may do. The residuals have Student's distribution with 4 degrees of freedom (Lange,
// Little and Taylor 1989, Robust statistical modeling using the t distribution), by reweighting.
func parabola(s Series, l *Log, near, lift float64) (Edge, bool) {
	s = s.good()
	i, j := sorted(s.T, max(near-apogeeBefore, lift+0.5)), sorted(s.T, near+apogeePast)
	if j-i < 8 {
		return Edge{}, false
	}
	t, y := s.T[i:j], make([]float64, j-i)
	v, way := make([]float64, j-i), make([]float64, j-i)
	priors := [bends]float64{math.Hypot(unknownFeltSD, scaleSD*l.Gravity), dragSideSD, dragSD}
	g := l.Gravity + unknownFelt
	if l.steers(near) {
		v, way = l.felt(t, near)
		priors, g = [bends]float64{math.Hypot(feltSD, scaleSD*l.Gravity), 0, 0}, l.Gravity
	}
	for k := range t {
		u := t[k] - near
		y[k] = s.X[i+k] + g*u*u/2 - way[k]
	}
	w := make([]float64, len(t))
	for k := range w {
		w[k] = 1
	}
	var x [2 + bends]float64
	var sd float64
	scale := madSigma * median(differences(y)) / math.Sqrt2
	for range 20 {
		scale = max(scale, 1e-3)
		f := bentFit{t: t, y: y, w: w, near: near, g: l.Gravity}
		for k, p := range priors {
			f.priors[k] = scale * scale / (p * p)
		}
		var ok bool
		if x, sd, ok = f.solve(); !ok {
			return Edge{}, false
		}
		var r []float64
		for k := range t {
			row, left := f.row(t[k]), y[k]
			for c := range row {
				left -= x[c] * row[c]
			}
			r = append(r, math.Abs(left))
		}
		scale = max(madSigma*median(r), 1e-3)
		for k := range w {
			w[k] = 5 / (4 + r[k]*r[k]/(scale*scale))
		}
	}
	sd *= scale
	// The speed's zero is the apogee. So near to it what drag bends is not seen.
	at := 0.0
	for range 8 {
		at = (x[1] + interpolate(t, v, near+at)) / (g - x[2])
	}
	if math.Abs(at) > 2 || g-x[2] < 1 {
		return Edge{}, false
	}
	return Edge{near + at, sd / g}, true
}

// steers says that what is felt tells how a rocket is braked before its apogee: a gyro follows its tilt, and it feels as little
// as one that flies along its axis. One that tumbles feels its own turning.
func (l *Log) steers(near float64) bool {
	if !l.Tilted || len(l.Upward.T) == 0 {
		return false
	}
	i, j := sorted(l.Upward.T, near-apogeeBefore/2), sorted(l.Upward.T, near-0.2)
	if j-i < 5 {
		return true
	}
	sq := 0.0
	for _, x := range l.Upward.X[i:j] {
		sq += x * x
	}
	return math.Sqrt(sq/float64(j-i)) < tumbleFelt
}

const (
	feltSD        = 0.3   // m/s2, of what is felt upwards near the apogee: bias and tilt
	scaleSD       = 0.05  // of a height by pressure: the air is 15 K warmer or colder than taken
	unknownFelt   = 0.3   // m/s2 of drag in the seconds before an apogee, when the tilt is not known
	unknownFeltSD = 0.6   // m/s2
	dragSD        = 0.003 // 1/m, of drag over the square of the speed: 60 m/s of terminal speed; tumbling boosters have more
	dragSideSD    = 0.05  // 1/s, of the same times the speed sideways, of up to 50 m/s
	tumbleFelt    = 4.0   // m/s2, of what is felt upwards in the last seconds before an apogee by a rocket that flies straight, at most
)

func differences(y []float64) (d []float64) {
	for k := 1; k < len(y); k++ {
		d = append(d, math.Abs(y[k]-y[k-1]))
	}
	return d
}

// bends is how many ways there are for a height near its top to be no parabola of known curvature: another curvature, drag by the
// speed sideways, which brakes in proportion to the speed upwards, and drag by its square.
const bends = 3

// bentFit is a weighted fit of such a height; the bends are known to priors, in squared residuals. One of no spread is left out.
type bentFit struct {
	t, y, w []float64
	near, g float64
	priors  [bends]float64
}

func (f *bentFit) row(t float64) [2 + bends]float64 {
	u := t - f.near
	return [2 + bends]float64{1, u, u * u / 2, f.g * u * u * u / 6, f.g * f.g * u * u * u * math.Abs(u) / 12}
}

// solve gives the coefficients, and the standard deviation of the slope for residuals of 1.
func (f *bentFit) solve() (x [2 + bends]float64, sd float64, ok bool) {
	var m [2 + bends][2 + bends]float64
	var b [2 + bends]float64
	for k := range f.t {
		row := f.row(f.t[k])
		for r := range row {
			b[r] += f.w[k] * row[r] * f.y[k]
			for c := range row {
				m[r][c] += f.w[k] * row[r] * row[c]
			}
		}
	}
	for k, p := range f.priors {
		if math.IsInf(p, 1) {
			for c := range b {
				m[2+k][c], m[c][2+k] = 0, 0
			}
			b[2+k], p = 0, 1
		}
		m[2+k][2+k] += p
	}
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
func inverted(m [2 + bends][2 + bends]float64) ([2 + bends][2 + bends]float64, bool) {
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
