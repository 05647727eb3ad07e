package phases

import "math"

const (
	slowBefore  = 6    // samples before the highest one that a slow height's apogee is told by
	slowAfter   = 1.6  // steps after it
	slowLeast   = 4    // samples at least
	slowCoast   = 3.0  // s after the liftoff from which a motor is taken to have ended; common practice, no source
	slowGrid    = 0.02 // s between the instants that are tried
	slowNoise   = 0.5  // m, middle of what the model leaves, and
	slowFreedom = 4.0  // degrees of freedom of that
	slowModel   = 0.1  // s, one standard deviation: sideways speed and wind change where it is highest; common practice, no source
)

// terminals are the speeds, in m/s, at which drag would be as great as the weight, from a light body's to that of one without.
var terminals = []float64{35, 45, 60, 80, 110, 150, 220, 400, 2000}

// ballistic tells the apogee by a height that is too slow for a parabola: a body that only its weight and the drag of its
// speed brake, v' = -g (1 + v2/w2), has risen by w2/g ln cos(g u/w) until u before its apogee. What falls afterwards may
// already hang under a canopy, anywhere between its greatest height and free fall.
func ballistic(s Series, g, near, lift float64) (Edge, bool) {
	s = s.good()
	if len(s.T) < slowLeast {
		return Edge{}, false
	}
	d := step(s.T)
	i, j := sorted(s.T, near-apogeeBefore-slowAfter*d), sorted(s.T, near+apogeeBefore+slowAfter*d)
	top := i
	for k := i; k < j; k++ {
		if s.X[k] > s.X[top] {
			top = k
		}
	}
	i, j = max(top-slowBefore, sorted(s.T, lift+slowCoast)), min(sorted(s.T, s.T[min(top, len(s.T)-1)]+slowAfter*d), len(s.T))
	if j-i < slowLeast || top <= i || top >= j {
		return Edge{}, false
	}
	t, h := s.T[i:j], s.X[i:j]
	var l, at []float64
	best := math.Inf(-1)
	for u := t[top-i] - slowAfter*d; u < t[j-1-i]+0.5*d; u += slowGrid {
		sum := math.Inf(-1)
		for _, w := range terminals {
			x := ballisticLikelihood(t, h, g, u, w)
			sum = max(sum, x) + math.Log1p(math.Exp(-math.Abs(sum-x)))
		}
		l, at, best = append(l, sum), append(at, u), max(best, sum)
	}
	var p, s1, s2 float64
	for k, x := range l {
		w := math.Exp(x - best)
		p, s1, s2 = p+w, s1+w*(at[k]-near), s2+w*(at[k]-near)*(at[k]-near)
	}
	m := s1 / p
	return Edge{near + m, math.Sqrt(max(s2/p-m*m, 0) + slowModel*slowModel)}, true
}

// ballisticLikelihood is the logarithm of the likelihood of heights around an apogee at an instant, with the greatest height
// that fits best and the noise integrated out, up to a constant.
func ballisticLikelihood(t, h []float64, g, at, w float64) float64 {
	var n, sy, syy, spread float64
	for k := range t {
		u, y, sd := t[k]-at, h[k], slowNoise
		if u < 0 {
			c := math.Cos(max(g*u/w, -1.5))
			y -= w * w / g * math.Log(c)
		} else { // uniform between no fall at all and a free one
			y += g * u * u / 4
			sd = math.Hypot(sd, g*u*u/4/math.Sqrt(3))
		}
		q := slowNoise * slowNoise / (sd * sd)
		n, sy, syy, spread = n+q, sy+q*y, syy+q*y*y, spread+math.Log(sd)
	}
	rss := max(syy-sy*sy/n, 0)
	return -(slowFreedom+float64(len(t))-1)/2*math.Log(slowFreedom*slowNoise*slowNoise+rss) - spread
}
