package examine

import (
	"fmt"
	"math"
)

// The gas of a charge comes within some milliseconds and leaves a bay through its vents, at a rate in proportion to what is left:
// the pressure falls back as exp(-t/stay). Where the vents are small that takes a second, and the height says so for as long.
// Such a dent is fitted, with the lag of the bay and of the part's filter as its rise, over a parabola of the flight.

const (
	gasLeast  = 0.12  // s that gas stays, of which a dent is fitted; shorter ones are told by their length
	gasMost   = 1.3   // s at most: bays are vented so that they follow a flight; common practice, no source
	gasBefore = 0.8   // s of the flight before it that are fitted
	gasStays  = 4.0   // times its stay behind it: 2 % are left then
	gasLeft   = 0.025 // of its depth that a fit may leave, one standard deviation: a canopy opens meanwhile
	gasAgain  = 1.6   // times its stay and back within which it is fitted again
	gasNats   = 25.0  // by which it must be likelier than a parabola alone: two hundred thousand instants are tried, and steps are like it
	gasHeld   = 4.0   // times its stay in which what a fit leaves of it is hidden
	gasWindow = 300   // samples of a fit at most
)

// dent is the gas of a charge in a height: it falls by depth at an instant.
type dent struct{ at, rise, stay, depth, depthSD, left float64 }

func (d *dent) value(t float64) float64 {
	if t <= d.at {
		return 0
	}
	return -d.depth * (1 - math.Exp(-(t-d.at)/d.rise)) * math.Exp(-(t-d.at)/d.stay)
}

// gases finds charges whose gas stays, near where one may fire, and takes it out of the height.
func (e *examiner) gases() {
	b := e.baro
	w := max(int(gasJump/b.step), 2)
	n := max(int(gasSlope/b.step), 4)
	bound := max(chargeSigmas*b.sigma, chargeLeast/2)
	for i := max(b.index(e.lift), n); i+w < len(b.x) && (e.down == 0 || b.t[i] < e.down-0.5); i++ {
		if b.mask[i] || b.mask[i+w] || !e.chargesNear(b.t[i]) {
			continue
		}
		before := (median(b.x[i-n/2:i]) - median(b.x[i-n:i-n/2])) / float64(n-n/2)
		if b.x[i+w]-median(b.x[i-n/2:i])-before*(float64(w)+float64(n/2)/2) > -bound {
			continue
		}
		if d, ok := b.dented(b.t[i]-2*b.step, b.t[i+w]); ok {
			e.gassed(d)
			i = b.index(d.at + gasHeld*d.stay)
		} else {
			i += w
		}
	}
}

const (
	gasJump  = 0.1 // s within which a dent has fallen by half of its depth
	gasSlope = 0.4 // s before it that tell the flight's slope
)

// chargesNear says that a charge may fire at an instant: stages part, or a canopy opens.
func (e *examiner) chargesNear(t float64) bool {
	if math.Abs(t-e.top) < earliestOpening {
		return true
	}
	for _, m := range e.fires {
		if m.Event != Ignition && math.Abs(t-m.At) < chargeNear+m.Within {
			return true
		}
	}
	return false
}

// dented fits a dent that begins between two instants: the likeliest of those over a stretch of the flight as long as each, and then of all
// over one stretch, which tells how long it stays.
func (g *signal) dented(from, until float64) (best dent, ok bool) {
	gain := gasNats
	for stay := gasLeast; stay < gasMost; stay *= 1.25 {
		if d, nats := g.dentOver(from, until, until+gasStays*stay, stay, stay); nats > gain {
			best, gain, ok = d, nats, true
		}
	}
	if !ok {
		return best, false
	}
	again, nats := g.dentOver(max(best.at-2*g.step, from), min(best.at+2*g.step, until), until+gasStays*gasAgain*best.stay, max(best.stay/gasAgain, gasLeast), min(best.stay*gasAgain*gasAgain, gasMost))
	if nats > gasNats {
		best = again
	}
	return best, true
}

// dentOver fits dents that begin between two instants, and whose gas stays for between two times, to the height up to an end; by how
// many nats the best one is likelier than a parabola, or 0.
func (g *signal) dentOver(from, until, end, least, most float64) (best dent, gain float64) {
	i, j := g.between(from-gasBefore, end)
	every := 1 + (j-i)/gasWindow
	var t, x []float64
	for k := i; k < j; k += every {
		if !g.mask[k] {
			t, x = append(t, g.t[k]), append(x, g.x[k])
		}
	}
	if len(t) < 8 {
		return best, 0
	}
	axes := parabola(t)
	y := without(x, axes)
	none, s := dot(y, y), make([]float64, len(t))
	for stay := least; stay <= most; stay *= 1.06 {
		for at := from; at < until; at += max(g.step/2, 0.01) {
			for _, rise := range [...]float64{0.004, 0.03, 0.08, 0.15} {
				d := dent{at: at, rise: rise, stay: stay, depth: 1}
				for k := range t {
					s[k] = d.value(t[k])
				}
				r := without(s, axes)
				rr := dot(r, r)
				if rr <= 0 {
					continue
				}
				d.depth = dot(r, y) / rr
				left := math.Max(none-d.depth*d.depth*rr, 0)
				sd := math.Hypot(math.Hypot(g.sigma, fallLoose), gasLeft*d.depth)
				d.left = math.Sqrt(left / float64(len(t)-4))
				nats := float64(len(t)) / 2 * math.Log(none/max(left, float64(len(t))*g.sigma*g.sigma))
				if d.depth*d.peak() > chargeLeast && d.left < sd && nats > gain {
					d.depthSD = sd / math.Sqrt(rr)
					best, gain = d, nats
				}
			}
		}
	}
	return best, gain
}

// peak is the greatest share of its depth that a dent reaches.
func (d *dent) peak() float64 {
	t := d.rise * math.Log1p(d.stay/d.rise)
	return (1 - math.Exp(-t/d.rise)) * math.Exp(-t/d.stay)
}

// parabola gives three vectors of unit length, at right angles, that hold every parabola over some times.
func parabola(t []float64) (axes [][]float64) {
	for p := range 3 {
		v := make([]float64, len(t))
		for k := range t {
			v[k] = math.Pow((t[k]-t[0])/(t[len(t)-1]-t[0]), float64(p))
		}
		v = without(v, axes)
		length := math.Sqrt(dot(v, v))
		for k := range v {
			v[k] /= length
		}
		axes = append(axes, v)
	}
	return axes
}

// without is what vectors at right angles leave of one.
func without(x []float64, axes [][]float64) []float64 {
	out := append([]float64(nil), x...)
	for _, v := range axes {
		c := dot(v, out)
		for k := range out {
			out[k] -= c * v[k]
		}
	}
	return out
}

// gassed notes a charge whose gas stays, and takes it out of the height.
func (e *examiner) gassed(d dent) {
	b := e.baro
	size := -d.depth * d.peak()
	f := Finding{Kind: Spike, Part: b.part, Axis: b.axis, From: d.at, Until: d.at + math.Ln10*d.stay, Within: b.step, Size: size, SizeWithin: 2 * d.depthSD, Strength: -size / b.sigma}
	e.absorbPeak(&f)
	w := shares(math.Log(chargePrior), math.Log(spikePrior/2))
	f.Explanations = []Explanation{
		{Cause: Pressured, Share: w[0], For: []string{fmt.Sprintf("the pressure rises at once and falls to a third every %.2f s, as gas does that leaves through vents; that leaves %.1f m of %.0f", d.stay, d.left, d.depth), "it lies near an apogee, a separation or a deployment, when charges fire"}},
		{Cause: Sensor, Share: w[1], Against: []string{"a part's own breaks do not fade so"}},
	}
	e.found(f)
	for i := b.index(d.at); i < len(b.x); i++ {
		b.x[i] -= d.value(b.t[i])
	}
	b.hide(d.at-b.step, d.at+gasHeld*d.stay)
}
