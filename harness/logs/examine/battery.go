package examine

import (
	"fmt"
	"math"
)

const (
	voltSpan   = 5.0  // s of each of the five blocks whose median is a battery's usual voltage: a load of voltLong fills one
	voltSigmas = 8.0  // of its noise
	voltLeast  = 0.02 // of its voltage: less disturbs no board; common practice, no source
	voltLong   = 5.0  // s: what lasts longer is no load's
	sagLongest = 2.0  // s that what is fired draws its current; common practice, no source
	loadNear   = 0.5  // s from a firing or an event that a load may begin
)

// battery finds where the supply sags, and says whether something was fired then. A load pulls a battery down; what
// lifts it is the measurement's own.
func (e *examiner) battery() {
	g := e.volts
	if g == nil || len(g.x) < 50 {
		return
	}
	usual := g.slow(voltSpan)
	sigma := g.sigma
	if g.changes() < leastRuns { // what hardly ever changes tells no noise by its steps
		sigma = 0
	}
	least := max(voltSigmas*sigma, voltLeast*math.Abs(median(g.x)))
	for i := 0; i < len(g.x); i++ {
		if g.mask[i] || math.Abs(g.x[i]-usual[i]) < least {
			continue
		}
		j, sum := i, 0.0
		for ; j < len(g.x) && !g.mask[j] && math.Abs(g.x[j]-usual[j]) >= least/2; j++ {
			sum += g.x[j] - usual[j]
		}
		if i > 0 && j < len(g.x) && g.t[j]-g.t[i] < voltLong {
			f := Finding{Kind: Step, Part: g.part, Axis: g.axis, From: (g.t[i] + g.t[i-1]) / 2, Until: (g.t[j] + g.t[j-1]) / 2, Within: g.step, Size: sum / float64(j-i)}
			f.SizeWithin = 2 * sigma / math.Sqrt(float64(j-i))
			f.Strength = math.Abs(f.Size) / max(sigma, least/voltSigmas)
			f.Explanations = e.whySagged(&f)
			e.found(f)
			for k := i; k < j; k++ {
				g.x[k] = usual[k]
			}
			g.hide(f.From, f.Until)
		}
		i = j
	}
}

// heldNoise is the noise of a channel whose rows repeat the values of a slower converter, as it counts for each row: that of the values
// that differ, by the square root of how many rows repeat one.
func (g *signal) heldNoise() float64 {
	var x []float64
	for i, v := range g.x {
		if i == 0 || v != g.x[i-1] {
			x = append(x, v)
		}
	}
	if len(x) < leastRuns {
		return 0
	}
	return noise(x) * math.Sqrt(min(float64(len(g.x))/float64(len(x)), heldMost))
}

const heldMost = 20.0 // rows that repeat a value: more are a calm voltage's

// changes is how often a channel changes its value.
func (g *signal) changes() (n int) {
	for i := 1; i < len(g.x); i++ {
		if g.x[i] != g.x[i-1] {
			n++
		}
	}
	return n
}

// slow is the running median of a channel over five blocks of a length.
func (g *signal) slow(span float64) []float64 {
	n := max(int(span/g.step), 4)
	var blocks []float64
	for i := 0; i < len(g.x); i += n {
		blocks = append(blocks, median(g.x[i:min(i+n, len(g.x))]))
	}
	out := make([]float64, len(g.x))
	for b := range blocks {
		first := max(min(b-2, len(blocks)-5), 0)
		m := median(blocks[first:min(first+5, len(blocks))])
		for i := b * n; i < min((b+1)*n, len(g.x)); i++ {
			out[i] = m
		}
	}
	return out
}

// whySagged weighs a load against the measurement.
func (e *examiner) whySagged(f *Finding) []Explanation {
	load, own := Explanation{Cause: Load}, Explanation{Cause: Sensor}
	lLoad, lOwn := 0.0, 0.0
	if f.Size < 0 && f.Until-f.From < sagLongest {
		lLoad += 1.5
		load.For = append(load.For, "it falls and comes back, as under a load")
	}
	if f.Size > 0 {
		lLoad -= 4
		load.Against = append(load.Against, "a load pulls a battery down, never up")
	}
	if what, d, ok := e.firing(f.From); ok {
		lLoad += 3
		load.For = append(load.For, fmt.Sprintf("it begins %+.2f s from %s", d, what))
	} else {
		load.Against = append(load.Against, "nothing is known to have been switched then")
	}
	w := shares(lLoad, lOwn)
	load.Share, own.Share = w[0], w[1]
	if w[1] > w[0] {
		return []Explanation{own, load}
	}
	return []Explanation{load, own}
}

// firing names what was fired next to an instant.
func (e *examiner) firing(t float64) (what string, d float64, ok bool) {
	best := loadNear
	for _, o := range e.log.Outputs {
		if x := t - o.At.Seconds(); o.On && math.Abs(x) < best {
			what, d, ok, best = fmt.Sprintf("output %d going on", o.Channel), x, true, math.Abs(x)
		}
	}
	for _, m := range e.fires {
		if x := t - m.At; math.Abs(x) < best {
			what, d, ok, best = m.Name(), x, true, math.Abs(x)
		}
	}
	return what, d, ok
}

// fires says that something is fired to make a moment of this kind happen.
func fires(m Moment) bool {
	return m.Event == Ignition || m.Event == Deployment || m.Event == Separation
}
