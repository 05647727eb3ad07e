package examine

import (
	"cmp"
	"math"
	"slices"
)

// A pack pulls its lines tight some tenths of a second after its charge has thrown it out, and softly: elastic lines stretch over
// many samples, which foretell each other, so no sample of it surprises. What tells such a tug is the mean force over its length
// against those before and behind it, on all axes together, held against what that is around it anyway: a body that
// tumbles or swings gives it all the time, a tug once.

var tugLengths = [...]float64{0.04, 0.08, 0.16} // s: lines stretch within that; common practice, no source

const (
	tugTimes   = 5.0  // times what is usual around it: of a sine's the greatest is 1.4 times the median, of normal noise one in 1e5 is 5 times
	tugLeast   = 2.0  // m/s2 beyond the means around it that a tug gives at least: gusts give less; common practice, no source
	tugImpulse = 0.4  // m/s that it gives the rocket at least: a pack of a tenth of its mass, thrown out at 4 m/s
	tugMore    = 0.5  // of a tug's force, by which the size of what is felt grows
	tugFirst   = 0.5  // of the greatest, from which the first one counts: a canopy that fills pulls once more behind its tug
	tugShare   = 0.15 // of the greatest axis, that the second one shows at least: lines pull along one axis to 9 degrees one time in 90
	tugShown   = 3.0  // times what is usual on it, that two axes show of a tug: a fault of the part is on one
	tugEdge    = 0.15 // of a tug's force at which it is taken to begin
)

// tugs gives the first strong pull that begins between two instants, and one that begins before that, from a third one on, where they
// grow as softly as lines stretch; zero shocks where there are none. The greatest one of a stretch says which others are strong.
func (e *examiner) tugs(before, from, until float64) (own, next shock) {
	a := e.accel[0]
	i, j := a.between(before, until)
	if j-i < tugSamples {
		return own, next
	}
	var all []tugAt
	for _, length := range tugLengths {
		n := max(int(math.Round(length/a.step)), 1)
		p := e.pulls(i, j, n)
		usual, axes := e.usualPull(p, n)
		for _, o := range p {
			shown := 0
			for c := range 3 {
				if axes[c] > 0 && o.on[c] > max(tugShown*axes[c], tugShare*slices.Max(o.on[:])) {
					shown++
				}
			}
			if o.score = o.force / usual; o.score > tugTimes && shown >= min(e.axes(), 2) && o.force*float64(n)*e.accel[0].step > tugImpulse {
				all = append(all, o)
			}
		}
	}
	slices.SortFunc(all, func(x, y tugAt) int { return cmp.Compare(x.at, y.at) })
	split := 0
	for split < len(all) && a.t[all[split].at] < from {
		split++
	}
	return e.firstOf(all[:split]), e.firstOf(all[split:])
}

// usualPull is the force of pulls over n samples that there is anyway, of all axes together and of each.
func (e *examiner) usualPull(all []tugAt, n int) (usual float64, axes [3]float64) {
	x := make([]float64, len(all))
	for c, g := range e.accel {
		if g != nil {
			for k := range all {
				x[k] = all[k].on[c]
			}
			axes[c] = max(median(x), g.sigma*math.Sqrt(float64(n)), tugLeast/tugTimes/2*float64(n))
		}
	}
	for k := range all {
		x[k] = all[k].force
	}
	return max(median(x), tugLeast/tugTimes, e.accel[0].sigma/math.Sqrt(float64(n))), axes
}

// firstOf is the first strong one of pulls in order of time, where it grows softly.
func (e *examiner) firstOf(all []tugAt) (s shock) {
	most := 0.0
	for _, o := range all {
		most = max(most, o.score)
	}
	k := slices.IndexFunc(all, func(o tugAt) bool { return o.score >= tugFirst*most })
	if k < 0 {
		return s
	}
	best, end := all[k], all[k].at+all[k].n
	for ; k < len(all) && all[k].at <= end; k++ { // of one pull, at all its lengths
		if all[k].score > best.score {
			best = all[k]
		}
		end = min(max(end, all[k].at+all[k].n), best.at+2*best.n)
	}
	a := e.accel[0]
	from, peak := e.pulledFrom(best)
	if peak-from < max(tugRises, 1.6*a.step) {
		return s
	}
	return shock{at: from, within: tugWithin + a.step, until: a.t[min(best.at+best.n, len(a.t)-1)], score: best.score, axes: 1}
}

const (
	tugSamples = 8     // that a stretch must have for what is usual in it to be told
	tugRises   = 0.015 // s that lines take at least to their greatest pull; gas pushes within some milliseconds; common practice, no source
	tugGrows   = 0.1   // s that they take to it at most
	tugWithin  = 0.02  // s, expanded: lines take up their slack
)

// tugAt is a pull over n samples from one on.
type tugAt struct {
	at, n        int
	force, score float64
	on           [3]float64 // m/s2 times n, by axis
}

// pulls gives for each sample by how much the mean force over n from it on differs from the mean of as many before, and of as many
// behind: the lesser of both.
func (e *examiner) pulls(i, j, n int) (out []tugAt) {
	a := e.accel[0]
	lo, hi := max(i-n, 0), min(j+2*n, len(a.t))
	sums := make([][5]float64, hi-lo+1) // by axis, lost ones, the size of all
	for k := lo; k < hi; k++ {
		s, size := sums[k-lo], 0.0
		for c, g := range e.accel {
			if g == nil || k >= len(g.x) {
				continue
			}
			s[c], size = s[c]+g.x[k], math.Hypot(size, g.x[k])
			if g.lost(k) {
				s[3]++
			}
		}
		s[4] += size
		sums[k-lo+1] = s
	}
	for k := max(i, lo+n); k < j && k+2*n <= hi; k++ {
		b := k - lo
		if sums[b+2*n][3] > sums[b-n][3] {
			continue
		}
		before, after := 0.0, 0.0
		var on [3]float64
		for c := range 3 {
			in := sums[b+n][c] - sums[b][c]
			x, y := in-sums[b][c]+sums[b-n][c], in-sums[b+2*n][c]+sums[b+n][c]
			before, after = math.Hypot(before, x), math.Hypot(after, y)
			on[c] = min(math.Abs(x), math.Abs(y))
		}
		p := tugAt{at: k, n: n, force: min(before, after) / float64(n), on: on}
		size := sums[b+n][4] - sums[b][4]
		if more := size - max(sums[b][4]-sums[b-n][4], sums[b+2*n][4]-sums[b+n][4]); more < tugMore*p.force*float64(n) {
			p.force = 0 // what is felt turns round, as it does for a body that swings
		}
		out = append(out, p)
	}
	return out
}

// pulledFrom is the instant at which a pull begins to grow, and that of its peak.
func (e *examiner) pulledFrom(p tugAt) (from, peaks float64) {
	a := e.accel[0]
	lo := max(p.at-max(p.n, int(tugGrows/a.step)), 0)
	var level [3]float64
	for c, g := range e.accel {
		if g != nil {
			level[c] = median(g.x[max(2*lo-p.at, 0) : lo+1])
		}
	}
	off := func(k int) float64 {
		f := 0.0
		for c, g := range e.accel {
			if g != nil && k < len(g.x) {
				f = math.Hypot(f, g.x[k]-level[c])
			}
		}
		return f
	}
	peak, most := p.at, 0.0
	for k := p.at; k < min(p.at+p.n, len(a.t)); k++ {
		if x := off(k); x > most {
			peak, most = k, x
		}
	}
	k := peak
	for k > lo && off(k-1) > tugEdge*most {
		k--
	}
	if k == 0 {
		return a.t[0], a.t[peak]
	}
	return (a.t[k] + a.t[k-1]) / 2, a.t[peak]
}

// released says that what a shock pulls has been let go before another pull, as by a charge. A canopy that fills goes on pulling.
func (e *examiner) released(s, next shock) bool {
	a := e.accel[0]
	peak, again, left := 0.0, 0.0, 0.0
	for _, g := range e.accel {
		if g == nil || len(g.x) != len(a.x) {
			continue
		}
		before := median(g.span(s.at-releaseSpan, s.at-a.step/2))
		most := func(s shock) (m float64) {
			for _, x := range g.span(s.at, max(s.until, s.at+a.step)) {
				m = max(m, math.Abs(x-before))
			}
			return m
		}
		peak, again = math.Hypot(peak, most(s)), math.Hypot(again, most(next))
		left = math.Hypot(left, median(g.span(max(next.at-releaseSpan, s.at+a.step), next.at-a.step/2))-before)
	}
	return left < releaseShare*max(peak, again)
}

const (
	releaseSpan  = 0.12 // s before an instant over which a level is taken
	releaseShare = 0.35 // of the greater peak, below which what the first one pulls is let go
)
