package phases

import (
	"cmp"
	"math"
	"slices"
)

const (
	onsetSpan      = 0.35  // s on each side of an edge that its time is found from
	misfit         = 4.0   // times the expected residuals from which the first look is not trusted
	kinkAfter      = 0.1   // s of the loud side there
	mostDrag       = 100.0 // m/s2 at 100 m/s, one standard deviation of the drag that a quiet side may have
	dragDoubt      = 0.15  // of the drag, carried back over a second
	beside         = 0.02  // s next to what is left out
	shortest       = 0.25  // s of a coast before anything else may follow
	tailShare      = 0.16  // of a ramp down, one standard deviation of where the thrust is endShare: 0.05 of a line, 0.25 of a logistic curve
	rampShare      = 0.15  // of a ramp's length, one standard deviation of where a bent one begins
	tailSpan       = 0.9   // s around a burnout, since motors die down slowly
	fewBeforeBrake = 8     // samples of a coast before something opens that do not tell a burnout alone
	onsetSamples   = 100   // on each side; more are averaged
)

// ramps are how long a motor may take to come up or to die down, in s.
var ramps = []float64{0, 0.01, 0.02, 0.04, 0.07, 0.11, 0.16, 0.22, 0.3, 0.42, 0.6}

// kinkBefore are the lengths of the quiet side in the closer look, in s.
var kinkBefore = []float64{0.15, 0.05, 0.03}

// refine finds the burns, and the instants at which motors begin and end.
func (a *axial) refine(f *Flight) {
	for i := 0; i < len(f.Ascent); i++ {
		if f.Ascent[i].Kind != Boost {
			continue
		}
		j := i
		for j+1 < len(f.Ascent) && f.Ascent[j+1].Kind == Tail {
			j++
		}
		b := Burn{On: Edge{f.Ascent[i].From, 0.1}, Off: Edge{f.Ascent[j].Until, 0.1}}
		if i > 0 {
			whole := longest(f.Ascent[i : j+1])
			whole.From, whole.Until = f.Ascent[i].From, f.Ascent[j].Until
			b.On = a.onset(&f.Ascent[i-1], &whole, 1)
		}
		if j+1 < len(f.Ascent) {
			whole := f.Ascent[j]
			whole.From = f.Ascent[i].From
			quiet := f.Ascent[j+1]
			if quiet.Kind == Shock && j+2 < len(f.Ascent) {
				from := quiet.From
				quiet = f.Ascent[j+2]
				quiet.From = from
			} else if quiet.Until-quiet.From < shortest && j+2 < len(f.Ascent) && f.Ascent[j+2].Kind == Braked {
				if j+3 < len(f.Ascent) && quiet.last-quiet.first < fewBeforeBrake {
					quiet.Until = f.Ascent[j+3].Until
				}
			} else if quiet.Until-quiet.From < shortest && j+2 < len(f.Ascent) && f.Ascent[j+2].Kind != Boost {
				quiet.Until = f.Ascent[j+2].Until // too short for a rocket that parts
			}
			calm := quiet // all of the coast, which a slow end of the burn may have parted
			for k := j + 1; k < len(f.Ascent) && f.Ascent[k].Kind != Boost; k++ {
				if x := &f.Ascent[k]; (x.Kind == Shock || x.Kind == Apart) && x.From > quiet.From+shortest {
					break
				}
				calm.Until = f.Ascent[k].Until
			}
			for _, s := range f.Steps { // another rocket flies on from there
				if s.At.At > quiet.From && s.At.At < quiet.Until {
					quiet.Until = max(s.At.At-a.step, quiet.From+stepClear)
				}
				if s.At.At > quiet.From+fadeAfter && s.At.At < calm.Until { // nearer ones may be the burn's own end
					calm.Until = s.At.At - a.step
				}
			}
			b.Off = a.onset(&quiet, &whole, -1, braked(f.Ascent[j+1:])...)
			b.Off = a.fade(b.On.At, b.Off, &calm)
		}
		f.Boosts = append(f.Boosts, b)
		i = j
	}
}

// longest gives the longest of some segments: a burn's first one may hold no more than its edge.
func longest(all []Segment) Segment {
	return slices.MaxFunc(all, func(a, b Segment) int { return cmp.Compare(a.Until-a.From, b.Until-b.From) })
}

// onset gives when a loud segment begins next to a quiet one, as the mean and the spread of its posterior
// over all instants around (Hinkley 1970, Inference about the change-point): drag in the quiet one, a
// ramp of some length, a parabola in the loud one, each with its own noise. With sign -1 time runs
// backwards, so that the end of a burn is its onset. A second look is closer, at the kink alone.
func (a *axial) onset(quiet, loud *Segment, sign float64, without ...Segment) Edge {
	at, span := loud.From, onsetSpan
	if sign < 0 {
		at, span = loud.Until, tailSpan
	}
	s := search{a: a, quiet: quiet, loud: loud, sign: sign, before: span, after: span, ramps: ramps, without: without}
	if sign < 0 {
		s.drag, s.within = a.dragAfter(quiet)
		s.within = max(s.within, boundSigmas*loud.Noise)
	}
	far, ramp := s.edge(at)
	if a.step > kinkAfter/8 {
		return far
	}
	best := far
	s.after, s.ramps = kinkAfter, []float64{0, kinkAfter}
	for _, s.before = range kinkBefore {
		if near, _ := s.edge(far.At); near.SD < best.SD && math.Abs(near.At-far.At) < 2*far.SD+a.step {
			best = near
		}
	}
	// Some call the end of a thrust where it is endShare of its mean, others where nothing is left; so with its beginning.
	share := endShare
	if sign < 0 { // a thrust that dies down along a curve is at endShare well before its kink
		share = tailShare
	}
	best.SD = math.Hypot(best.SD, share*ramp)
	return best
}

// search is a search for an onset under way.
type search struct {
	a             *axial
	quiet, loud   *Segment
	sign          float64
	before, after float64 // s, on the quiet and on the loud side
	drag          func(v float64) float64
	within        float64 // m/s2, of drag
	ramps         []float64
	without       []Segment // of the quiet side
}

// braked lists the stretches of some segments, up to the next burn, in which something opened.
func braked(all []Segment) (out []Segment) {
	for _, s := range all {
		switch s.Kind {
		case Boost:
			return out
		case Braked:
			out = append(out, s)
		}
	}
	return out
}

// samples gives what lies around an instant, in the order of the search's time.
func (s *search) samples(at float64) (t, x, v []float64) {
	lo, hi := max(s.quiet.From, at-s.before), min(s.loud.Until, at+s.after)
	if s.sign < 0 {
		lo, hi = max(s.loud.From, at-s.after), min(s.quiet.Until, at+s.before)
	}
	t, x, v = s.outside(s.a.averaged(lo, hi))
	if s.drag != nil {
		t, x, v = s.pushed(t, x, v)
	}
	if s.sign < 0 {
		for i, j := 0, len(t)-1; i <= j; i, j = i+1, j-1 {
			t[i], t[j], x[i], x[j], v[i], v[j] = -t[j], -t[i], x[j], x[i], v[j], v[i]
		}
	}
	return t, x, v
}

// outside leaves out what lies in the stretches that the search goes without, or next to them.
func (s *search) outside(t, x, v []float64) (t2, x2, v2 []float64) {
	if len(s.without) == 0 {
		return t, x, v
	}
	for i := range t {
		if !slices.ContainsFunc(s.without, func(w Segment) bool { return t[i] > w.From-beside && t[i] < w.Until+beside }) {
			t2, x2, v2 = append(t2, t[i]), append(x2, x[i]), append(v2, v[i])
		}
	}
	return t2, x2, v2
}

// pushed leaves out what brakes more than the air does, and what is next to it: no motor pulls, so it
// tells nothing of a burn's end.
func (s *search) pushed(t, x, v []float64) (t2, x2, v2 []float64) {
	odd := math.Inf(-1)
	var ends []float64
	for i := range x {
		if x[i] < s.drag(v[i])-s.within {
			ends = append(ends, t[i])
		}
	}
	k := 0
	for i := range x {
		for k < len(ends) && ends[k] <= t[i]+beside {
			odd = ends[k]
			k++
		}
		if t[i]-odd > beside {
			t2, x2, v2 = append(t2, t[i]), append(x2, x[i]), append(v2, v[i])
		}
	}
	return t2, x2, v2
}

// edge looks for the edge around an instant, and gives the mean length of its ramp, in s.
func (s *search) edge(at float64) (Edge, float64) {
	a := s.a
	t, x, v := s.samples(at)
	if len(t) < 8 {
		return Edge{at, max(a.step, 0.05)}, 0
	}
	dt := (t[len(t)-1] - t[0]) / float64(len(t)-1)
	k := math.Sqrt(max(dt/a.step, 1)) // an average of k*k samples has 1/k of their noise
	off := min(shapeShare*math.Abs(s.loud.Level), shapeMost)
	sq, sl := max(min(s.quiet.Noise, a.beyond(s.quiet, s.sign)), 0.02, math.Sqrt(a.grain()))/k, math.Hypot(s.loud.Noise/k, off)
	type trial struct{ on, ramp, l float64 }
	var all []trial
	best, left := math.Inf(-1), 1.0
	for i := 2; i+3 < len(t); i++ {
		for _, d := range s.ramps {
			if t[i]+d > t[len(t)-1]-2*dt && d < s.after {
				break
			}
			l, q := splitLikelihood(t, x, v, i, d, sq, sl)
			on := t[i] - s.sign*at
			if d == 0 { // a jump lies before the first sample that shows it; a ramp begins at it
				on -= dt / 2
			}
			all = append(all, trial{on, d, l})
			if l > best {
				best, left = l, max(q/float64(len(t)-6), 1)
			}
		}
	}
	// Where even the best leaves more than noise, the likelihoods are that much flatter.
	var w, s1, s2, sr float64
	for _, x := range all {
		p := math.Exp((x.l - best) / left)
		if x.ramp >= s.after {
			x.ramp = 0 // the kink itself is looked at
		}
		w, s1, s2, sr = w+p, s1+p*x.on, s2+p*x.on*x.on, sr+p*x.ramp
	}
	if w == 0 {
		return Edge{at, max(a.step, 0.05)}, 0
	}
	m := s1 / w
	bent := rampShare * sr / w
	return Edge{at + s.sign*m, math.Sqrt(max(s2/w-m*m, 0) + dt*dt/12 + a.step*a.step/12 + bent*bent)}, sr / w
}

// averaged gives the samples between two instants, few enough.
func (a *axial) averaged(from, until float64) (t, x, v []float64) {
	i, j := sorted(a.t, from), sorted(a.t, until)
	k := max((j-i)/(2*onsetSamples), 1)
	for ; i+k <= j; i += k {
		var st, sx, sv float64
		for n := i; n < i+k; n++ {
			st, sx, sv = st+a.t[n], sx+a.x[n], sv+a.v[n]/100
		}
		t, x, v = append(t, st/float64(k)), append(x, sx/float64(k)), append(v, sv/float64(k))
	}
	return t, x, v
}

// splitLikelihood is the logarithm of the likelihood of a change that begins at sample i and takes d.
func splitLikelihood(t, x, v []float64, i int, d, quiet, loud float64) (l, chi float64) {
	const p = 6 // a drag or a constant before; a parabola after
	var m [p][p + 1]float64
	t0 := t[i]
	q := 0.0
	for k := range t {
		var row [p]float64
		u, s := t[k]-t0, loud
		switch {
		case k < i:
			row = [p]float64{1, v[k], v[k] * v[k]}
			s = quiet
		case u < d:
			r := u / d
			row = [p]float64{1 - r, (1 - r) * v[k], (1 - r) * v[k] * v[k], r, r * u, r * u * u}
		default:
			row = [p]float64{0, 0, 0, 1, u, u * u}
		}
		w := 1 / (s * s)
		for r := range row {
			for c := r; c < p; c++ {
				m[r][c] += w * row[r] * row[c]
			}
			m[r][p] += w * row[r] * x[k]
		}
		q += w * x[k] * x[k]
	}
	n := float64(i)*math.Log(quiet) + float64(len(t)-i)*math.Log(loud)
	m[1][1] += 1 / (mostDrag * mostDrag)
	m[2][2] += 1 / (mostDrag * mostDrag)
	var scale [p]float64
	for r := range p {
		scale[r] = m[r][r] + 1e-30
	}
	// Cholesky's decomposition in place; what can't be told is left out.
	for r := range p {
		for k := range r {
			for c := r; c <= p; c++ {
				m[r][c] -= m[k][r] * m[k][c]
			}
		}
		if m[r][r] < 1e-7*scale[r] {
			m[r] = [p + 1]float64{}
			continue
		}
		g := 1 / math.Sqrt(m[r][r])
		for c := r; c <= p; c++ {
			m[r][c] *= g
		}
		q -= m[r][p] * m[r][p]
	}
	return -0.5*q - n, q
}

// beyond is the noise of a quiet segment away from its edge, which may hold the motor's last.
func (a *axial) beyond(quiet *Segment, sign float64) float64 {
	lo, hi := quiet.From+0.3*(quiet.Until-quiet.From), quiet.Until
	if sign > 0 {
		lo, hi = quiet.From, quiet.Until-0.3*(quiet.Until-quiet.From)
		lo = max(lo, hi-1)
	} else {
		hi = min(hi, lo+1)
	}
	i, j := sorted(a.t, lo), sorted(a.t, hi)
	if j-i < 8 {
		return quiet.Noise
	}
	var s sums
	for k := i; k < j; k++ {
		s.sample(a.v[k]/100, a.x[k])
	}
	return math.Sqrt(s.rss(3, 1) / (s.n - 3))
}

// dragAfter fits the drag of a coast away from its beginning, by least squares without what is far off:
// a constant and the square of the speed.
func (a *axial) dragAfter(quiet *Segment) (drag func(v float64) float64, within float64) {
	lo := quiet.From + 0.5*min(quiet.Until-quiet.From, 2)
	i, j := sorted(a.t, lo), sorted(a.t, min(quiet.Until, lo+1))
	if j-i < 8 {
		return nil, 0
	}
	keep := math.Inf(1)
	var c, k float64
	for range 4 {
		var n, sw, sww, sx, swx float64
		var r []float64
		for m := i; m < j; m++ {
			w := a.v[m] * a.v[m] / 1e4
			if e := math.Abs(a.x[m] - c - k*w); e <= keep {
				n, sw, sww, sx, swx = n+1, sw+w, sww+w*w, sx+a.x[m], swx+w*a.x[m]
			}
		}
		det := n*sww - sw*sw
		if n < 4 || det < 1e-9*n*sww {
			return nil, 0
		}
		k = (n*swx - sw*sx) / det
		c = (sx - k*sw) / n
		for m := i; m < j; m++ {
			r = append(r, math.Abs(a.x[m]-c-k*a.v[m]*a.v[m]/1e4))
		}
		keep = 3*madSigma*median(r) + 0.1
	}
	v0 := a.v[i] / 100
	return func(v float64) float64 { return c + k*v*v }, keep + math.Abs(dragDoubt*k*v0*v0) + 1
}
