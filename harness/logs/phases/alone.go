package phases

import "math"

// An accelerometer alone tells the apogee in two ways. The upward speed is the integral of what is felt beyond g, and its zero
// is wrong by the share of the time since liftoff by which scale, tilt and bias are wrong: the integral of what is felt upwards
// from liftoff to the apogee is g times that time. And drag goes with the square of the speed, so what the coast feels is a
// parabola of the speed whose top is where the speed is 0, however wrong the integral began. Each correction of the speed is
// weighed by both.

const (
	tiltShare  = 0.015 // of the time since liftoff that a rocket leaning by 10 degrees is early, and
	tiltSpread = 0.03  // its standard deviation: 0 to 18 degrees; common practice, no source
	scaleShare = 0.02  // the same of an accelerometer's scale and bias, once its rest on the pad is taken off
	hiddenMost = 1.0   // times a range's end that thrust may lie beyond it, one standard deviation
	freeFall   = 0.6   // m/s2 that a coast feels beside the drag of its rise: bias, and drag of the sideways speed
	coastBin   = 0.2   // s in which gusts and buffet are alike
	coastSD    = 0.05  // m/s2, of what a bin's mean is wrong by at least
	coastSlow  = 200.0 // m/s: near the speed of sound drag is no square
	coastEarly = 1.5   // standard deviations of the apogee before it, from which a body may have turned over
	airScale   = 9000. // m in which the density falls to 1/e, near the ground
	mostFixed  = 150.0 // m/s of corrections that are tried
	fixStep    = 0.5   // m/s
)

// alone gives the apogee that the accelerometer alone tells.
func (a *axial) alone(l Log, f *Flight, lift float64) (Edge, bool) {
	v, tilted := a.upward(l, lift)
	first := sorted(a.t, lift)
	zero, ok := zeroAfter(a.t, v, first, 0)
	if !ok || len(f.Boosts) == 0 {
		return Edge{}, false
	}
	since := zero - lift
	mid, sd := 0.0, scaleShare*since
	if !tilted {
		mid, sd = -tiltShare*since, math.Hypot(sd, tiltSpread*since)
	}
	hidden := hiddenMost * l.Clipped * l.Range / l.Gravity // s
	// What is felt from the last burnout on until the body may have turned over.
	from := f.Boosts[len(f.Boosts)-1].Off.At + 0.3
	bins := a.binned(v, from, zero+mid-max(coastEarly*sd, 0.5), lift)
	type trial struct{ at, l float64 }
	var all []trial
	best := math.Inf(-1)
	for c := -mostFixed; c <= mostFixed; c += fixStep {
		at, ok := zeroAfter(a.t, v, first, c)
		if !ok {
			continue
		}
		d := c / l.Gravity // by so much is it later
		s := sd
		if d > mid {
			s = math.Hypot(sd, hidden)
		}
		z := (d - mid) / s
		x := trial{at, bins.drag(c) - 0.5*z*z}
		all, best = append(all, x), max(best, x.l)
	}
	var w, s1, s2 float64
	for _, x := range all {
		p := math.Exp(x.l - best)
		w, s1, s2 = w+p, s1+p*x.at, s2+p*x.at*x.at
	}
	if w == 0 {
		return Edge{}, false
	}
	m := s1 / w
	return Edge{m, math.Hypot(math.Sqrt(max(s2/w-m*m, 0)), scaleShare*since/2)}, true
}

// doubts holds the apogee by pressure against the accelerometer's. Where they differ, and the rise before the latter tells the same,
// what came after it was the barometer's drift.
func (a *axial) doubts(l Log, f *Flight, lift float64) {
	e, ok := a.alone(l, f, lift)
	if !ok || f.Apogee.At-e.At < doubtful*e.SD {
		return
	}
	if p, ok := parabola(l.Height.before(e.At+apogeePast), &l, e.At, lift); ok && math.Abs(p.At-e.At) < doubtful*e.SD && f.Apogee.At-p.At > doubtful*p.SD {
		f.Apogee, f.ByEye, f.Highest = p, p.At, byBarometer
	}
}

const doubtful = 3.0 // standard deviations

// upward is the upward speed from liftoff on at the accelerometer's samples; tilted says that the tilt is known.
func (a *axial) upward(l Log, lift float64) (v []float64, tilted bool) {
	i := min(sorted(a.t, lift), len(a.t)-1)
	v = make([]float64, len(a.t))
	if u := l.Upward; len(u.T) > 0 {
		was, k := 0.0, 0
		for j := max(i, 1); j < len(a.t); j++ {
			for k+1 < len(u.T) && u.T[k] < a.t[j] {
				k++
			}
			now := u.X[k] - l.Gravity
			v[j], was = v[j-1]+(now+was)/2*(a.t[j]-a.t[j-1]), now
		}
		return v, true
	}
	for j := i; j < len(a.t); j++ {
		v[j] = a.v[j] - a.v[i]
	}
	return v, false
}

// zeroAfter gives where a speed and a constant go through 0 on the way down; where a canopy opened before, it flies on freely.
func zeroAfter(t, v []float64, from int, c float64) (float64, bool) {
	most := 0.0
	for i := from; i < len(t); i++ {
		if most = max(most, v[i]+c); most > smallest && v[i]+c < 0 {
			return t[i], true
		}
	}
	return 0, false
}

// coasting is what was felt in a coast, in bins.
type coasting struct{ felt, speed, way, since []float64 } // m/s2, m/s, m, s since liftoff

// binned makes the bins: the median of each.
func (a *axial) binned(v []float64, from, until, lift float64) (o coasting) {
	way := make([]float64, len(a.t))
	for i := 1; i < len(a.t) && a.t[i] < until; i++ {
		way[i] = way[i-1] + (v[i]+v[i-1])/2*(a.t[i]-a.t[i-1])
	}
	for t := from; t+coastBin <= until; t += coastBin {
		i, j := sorted(a.t, t), sorted(a.t, t+coastBin)
		if m := (i + j) / 2; j > i && v[m] < coastSlow {
			o.felt = append(o.felt, median(a.x[i:j])+a.g)
			o.speed, o.way, o.since = append(o.speed, v[m]), append(o.way, way[m]), append(o.since, a.t[m]-lift)
		}
	}
	return o
}

// drag is the logarithm of the likelihood that the speed is c more than was summed up: the best drag by its square, and a
// constant, of unknown noise.
func (o *coasting) drag(c float64) float64 {
	n := float64(len(o.felt))
	if n < 5 {
		return 0
	}
	const prior = 1 / (freeFall * freeFall)
	variance := coastSD * coastSD
	for range 3 { // of the noise and the weight of what is known of the constant, which hang on each other
		s1, sw, sww, sy, swy, syy := n+prior*variance, 0.0, 0.0, 0.0, 0.0, 0.0
		for i, y := range o.felt {
			u := o.speed[i] + c
			w := -u * math.Abs(u) * math.Exp(-(o.way[i]+c*o.since[i])/airScale)
			sw, sww, sy, swy, syy = sw+w, sww+w*w, sy+y, swy+w*y, syy+y*y
		}
		k := max((swy-sw*sy/s1)/(sww-sw*sw/s1), 0)
		b := (sy - k*sw) / s1
		rss := syy - 2*b*sy - 2*k*swy + b*b*s1 + 2*b*k*sw + k*k*sww
		variance = coastSD*coastSD + max(rss, 0)/n
	}
	return -n / 2 * math.Log(variance)
}
