package examine

import (
	"math"
	"slices"

	"drystage/sim"
)

// persists says that a step is there a second later, too, and that one which ends goes back by as much: vibration of one frequency
// jumps for a moment only, and a body's turns do not come back.
func (g *signal) persists(f fitted) bool {
	if math.IsInf(f.b, 1) {
		return g.stepped(f.a, f.size)
	}
	if f.kind != Step || f.b-f.a < 2*staysSpan {
		return true
	}
	return g.stepped(f.a, f.size) && g.stepped(f.b, -f.size)
}

// stepped says that a channel lies higher by a size for a second after an instant than for one before it. The means of some blocks
// on each side are compared, by their own scatter.
func (g *signal) stepped(at, size float64) bool {
	side := func(from, until float64) (m, sd float64, n int) {
		var means []float64
		for t := from; t+staysBlock <= until; t += staysBlock {
			if x, _, n := g.mean(t, t+staysBlock); n > 0 {
				means = append(means, x)
			}
		}
		for _, x := range means {
			m += x / float64(len(means))
		}
		for _, x := range means {
			sd += (x - m) * (x - m) / float64(len(means))
		}
		return m, math.Sqrt(sd / float64(max(len(means)-1, 1))), len(means)
	}
	before, sb, n := side(at-staysSpan, at-g.step)
	after, sa, k := side(at+g.step, at+staysSpan)
	if n < 3 || k < 3 {
		return true
	}
	got := (after - before) * math.Copysign(1, size)
	return got > math.Abs(size)/2 && got > staysSigmas*math.Hypot(sb, sa)
}

const (
	staysSpan   = 1.0 // s on each side of a step that stays
	staysBlock  = 0.1 // s of each mean, longer than vibration swings one way
	staysSigmas = 4.0 // standard deviations: 1 in 30,000 by chance
)

// common says that shapes like a break are common around it: vibration of one frequency has bumps like that, which the
// noise from sample to sample does not tell. The same shape is fitted all around, with the break taken out, and the break
// must stand out from those sizes.
func (e *examiner) common(g *signal, f fitted) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro || math.IsInf(f.b, 1) {
		return false
	}
	length := f.b - f.a
	reach := min(max(commonReach*length, commonLeast), commonMost)
	rest := *g
	i, j := g.between(f.a-reach-length-2*g.margin, f.b+reach+length+2*g.margin)
	rest.t, rest.mask, rest.x = g.t[i:j], g.mask[i:j], slices.Clone(g.x[i:j])
	for k := range rest.x {
		rest.x[k] -= f.size * f.value(rest.t[k])
	}
	var sizes []float64
	burns := e.burning((f.a + f.b) / 2)
	every := max(2*reach/commonPlaces, 2*g.step)
	for d := -reach; d <= reach; d += every {
		s := shape{f.kind, f.a + d, f.b + d}
		if math.Abs(d) < length/2 || e.burning((s.a+s.b)/2) != burns || e.inShock(s.a, s.b) {
			continue
		}
		if x := rest.fit(s, rest.windows(s)); x.ok {
			sizes = append(sizes, math.Abs(x.size))
		}
	}
	return len(sizes) >= commonFew && math.Abs(f.size) < max(commonSigmas*median(sizes)/0.6745, commonTimes*slices.Max(sizes))
}

const (
	commonReach  = 6.0  // times the length of a break that are looked at on each side of it, but
	commonLeast  = 0.3  // s at least, and
	commonMost   = 2.0  // s at most
	commonPlaces = 24.0 // shapes that are fitted there
	commonFew    = 8    // of them that tell something
	commonTimes  = 1.5  // times the greatest of their sizes that a break stands out by
	commonSigmas = 5.0  // standard deviations of their sizes: a log has some 10,000 places, of which one reaches 4
)

// unfeltBump says that a bump of the height is what a motor may have done beyond the end of the accelerometer's range: half a
// sine of it is made by an acceleration of pi squared over the square of its length.
func (e *examiner) unfeltBump(r *signal, f fitted) bool {
	if r.part != sim.PartBaro || f.kind == Step || !e.railed() {
		return false
	}
	a, cut := e.accel[0], 0
	i, j := a.between(f.a-unfeltAfter, f.b)
	for k := i; k < j; k++ {
		if e.beyond(k) >= 0 {
			cut++
		}
	}
	size, d := math.Abs(f.size), f.b-f.a
	if f.kind == Drift {
		size *= d
	}
	return float64(cut) > railShare*float64(j-i) && size*math.Pi*math.Pi/(d*d) < beyondSD
}

const unfeltAfter = 1.0 // s after what was not felt in which the height by the accelerometer bends to where it should be
