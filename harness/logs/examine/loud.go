package examine

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"drystage/harness/logs/phases"
	"drystage/sim"
)

// level is the noise of a channel during a stretch.
type level struct {
	from, until float64
	sd          float64
}

const (
	louder  = 1.3 // times the usual noise from which a phase has its own: 60 samples tell it from chance
	clearly = 2.0 // times the noise after a burn: twelve samples tell it from chance
)

// loudness gives the noise of each burn.
func (e *examiner) loudness(g *signal) (out []level) {
	if g.part != sim.PartAccel && g.part != sim.PartGyro {
		return nil
	}
	for n, b := range e.burns {
		sd, until := g.quieter(b.On.At, b.Off.At), b.Off.At+min(b.Off.At-b.On.At, 1)
		if n+1 < len(e.burns) {
			until = min(until, e.burns[n+1].On.At-burnEdge)
		}
		// What goes on when the motor has ended is not the motor's.
		after := g.quieter(b.Off.At+burnEdge, until)
		if others := e.othersIn(g, b); others > 0 {
			sd, after = min(sd, axesAlike*others), 0
		}
		if sd > louder*g.sigma && after*clearly < sd {
			out = append(out, level{b.On.At - 1.5*g.step, b.Off.At + 1.5*g.step, sd})
		}
	}
	out = append(out, e.buffet(g)...)
	slices.SortFunc(out, func(a, b level) int { return cmp.Compare(a.from, b.from) })
	return out
}

// othersIn is the greatest noise in a burn of the other axes of a part; 0 without any.
func (e *examiner) othersIn(g *signal, b phases.Burn) (sd float64) {
	for _, o := range e.signals() {
		if o.part == g.part && o != g {
			sd = max(sd, o.shake(b.On.At, b.Off.At))
		}
	}
	return sd
}

const axesAlike = 3.0 // times the noise of a part's loudest other axis that a motor makes of one: it shakes all of them

const (
	buffetSpan = 0.5  // s
	buffetSlow = 10.0 // m/s: slower tells nothing of it
)

// buffet gives the noise of coasts, which the air makes in proportion to the speed; half of all stretches are quieter, so that
// a burst of the sensor's own does not count.
func (e *examiner) buffet(g *signal) (out []level) {
	if g.part != sim.PartAccel && g.part != sim.PartGyro || e.rise == nil {
		return nil
	}
	share, at := e.buffets(g)
	k, others := median(share), -1.0
	for _, o := range e.signals() {
		if o.part == g.part && o != g {
			s, _ := e.buffets(o)
			others = max(others, median(s))
		}
	}
	if others >= 0 { // a burst that fills a short coast is not the air's, which shakes all axes
		k = min(k, axesAlike*others)
	}
	for _, w := range at {
		if sd := math.Hypot(g.sigma, k*e.rise.at((w.from+w.until)/2)); sd > louder*g.sigma {
			out = append(out, level{w.from, w.until, sd})
		}
	}
	return out
}

// buffets gives the noise in stretches of the coasts, beyond the usual, as a share of the speed.
func (e *examiner) buffets(g *signal) (share []float64, at []window) {
	for t := e.lift; t+buffetSpan < e.top; t += buffetSpan {
		i, j := g.between(t, t+buffetSpan)
		v := math.Abs(e.rise.at(t + buffetSpan/2))
		if e.burning(t) || e.burning(t+buffetSpan) || j-i < 8 || v < buffetSlow {
			continue
		}
		sd := noise(g.x[i:j])
		share, at = append(share, math.Sqrt(max(sd*sd-g.sigma*g.sigma, 0))/v), append(at, window{t, t + buffetSpan})
	}
	return share, at
}

// quieter is the noise between two instants: of their second quietest quarter where there are samples
// enough, so that a burst of the sensor's own does not count.
func (g *signal) quieter(from, until float64) float64 {
	i, j := g.between(from, until)
	if j-i < 40 {
		return noise(g.x[i:j])
	}
	var parts []float64
	for k := range 4 {
		parts = append(parts, noise(g.x[i+k*(j-i)/4:i+(k+1)*(j-i)/4]))
	}
	slices.Sort(parts)
	return parts[1]
}

// sd is the noise of a sample at an instant.
func (g *signal) sd(t float64) float64 {
	i := sort.Search(len(g.levels), func(i int) bool { return g.levels[i].from > t })
	if i > 0 && t < g.levels[i-1].until {
		return g.levels[i-1].sd
	}
	return g.sigma
}

// loudest is the greatest noise between two instants.
func (g *signal) loudest(from, until float64) float64 {
	sd := g.sigma
	i := max(sort.Search(len(g.levels), func(i int) bool { return g.levels[i].from > from })-1, 0)
	for ; i < len(g.levels) && g.levels[i].from < until; i++ {
		if g.levels[i].until > from {
			sd = math.Max(sd, g.levels[i].sd)
		}
	}
	return sd
}

// weight is what a sample counts for in a fit: the usual noise over its own.
func (g *signal) weight(t float64) float64 {
	if g.levels == nil {
		return 1
	}
	return g.sigma / g.sd(t)
}
