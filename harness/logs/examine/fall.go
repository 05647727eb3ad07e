package examine

import "math"

// In a log without an accelerometer the height alone tells of canopies. A body at terminal speed falls ever more slowly
// in denser air; in a height stretched by the density it falls along a straight line. So the fall is cut into lines by
// dynamic programming (Jackson et al. 2005, An algorithm for optimal partitioning of data on an interval), and a line much
// flatter than the one before it begins with a canopy. The first one, at the apogee, opens before any line is reached:
// its time is what fits free fall to an instant and a canopy's own fall from there best.

const (
	fallCells  = 300  // of equal length, that a fall is cut into at most
	fallLoose  = 0.7  // m that swings and gusts move a height by, one standard deviation; common practice, no source
	fallNats   = 9.0  // that another line must be worth: 1 in 8,000, and a fall has some hundred instants
	fallLasts  = 1.5  // s that a line lasts at least to be a fall at its own speed
	flatter    = 0.75 // of the speed before, that a canopy leaves at most
	fallSlow   = 3.0  // m/s: slower falls are not told from swings
	fillMid    = 0.3  // s by which a canopy that fills brakes late: the second half of its filling does nearly all of it, and
	fillWithin = 0.45 // s, expanded, by which that differs: canopies fill within 0.2 to 1.2 s; common practice, no source

	firstSpan  = 8.0  // s after the apogee in which the fall of a first canopy is fitted
	firstLeast = 14.0 // samples of the fall that are fitted
	firstFast  = 32.0 // m/s: a body that tumbles without a canopy may fall as fast; common practice, no source
	firstLate  = 5.0  // s after the apogee that a first canopy may open; later ones are told by lines
	firstGrid  = 0.05 // s between the instants that are tried
	firstLoose = 0.8  // s, expanded: what sideways speed, tumbling and filling change of the fall
)

// stretchedHeight is a height in which a body at terminal speed falls along a straight line in the standard atmosphere's lowest
// layer (ISO 2533): the integral of the square root of the density, whose exponent is 4.2559/2 of the temperature.
func stretchedHeight(h float64) float64 {
	const lapse, ground, power = 0.0065, 288.15, 3.128
	return ground / (power * lapse) * (1 - math.Pow(max(1-lapse*h/ground, 0.1), power))
}

// fallenLine is a straight line through stretched heights.
type fallenLine struct {
	from, until    float64 // s
	mid, at, speed float64 // s; m there; m/s upwards
	midSD, slopeSD float64 // m, m/s
}

// byHeightAlone finds the openings of canopies in the height between the apogee and an instant.
func (e *examiner) byHeightAlone(top, until float64) (out []opening) {
	b := e.baro
	name, open := e.byHeight()
	from := top
	if !e.falling {
		from += fallLasts
	}
	if o, ok := e.firstByHeight(top, min(until, top+max(firstSpan, firstLeast*b.step))); ok && !e.falling {
		o.within += open
		out, from = append(out, o), o.at+1
	}
	lines := b.fallLines(from, until)
	for i := 0; i+1 < len(lines); i++ {
		x := lines[i]
		if x.until-x.from < fallLasts || x.speed > -fallSlow {
			continue
		}
		k := i + 1
		for k < len(lines) && lines[k].until-lines[k].from < fallLasts {
			k++
		}
		if k == len(lines) || lines[k].speed < flatter*x.speed {
			continue
		}
		y := lines[k]
		steeper := y.speed - x.speed
		at := (x.at - x.speed*x.mid - y.at + y.speed*y.mid) / steeper
		at = min(max(at, x.until-fallLasts), y.from+fallLasts)
		sd := math.Hypot(math.Hypot(x.midSD, y.midSD), math.Hypot(x.slopeSD*(at-x.mid), y.slopeSD*(y.mid-at))) / steeper
		out = append(out, opening{at - e.slows(-x.speed, -y.speed), math.Hypot(2*sd, fillWithin) + b.step + open, name})
		i = k - 1
	}
	return out
}

// slows is by how much later than a canopy opens the lines of the fall before and after it meet. It falls on while it fills, and then
// beyond its own speed w for the way that v' = g (1 - v2/w2) takes from v to w: w2/g ln((v+w)/2w) more than at w.
func (e *examiner) slows(v, w float64) float64 {
	if w <= 0 || v <= w {
		return fillMid
	}
	return fillMid + w*w/e.g*math.Log((v+w)/(2*w))/(v-w)
}

// fallLines cuts a fall into straight lines of stretched height.
func (g *signal) fallLines(from, until float64) []fallenLine {
	i, j := g.between(from, until)
	var t, h []float64
	for ; i < j; i++ {
		if !g.mask[i] {
			t, h = append(t, g.t[i]), append(h, stretchedHeight(g.x[i]))
		}
	}
	if len(t) < 8 {
		return nil
	}
	every := max(len(t)/fallCells, 2)
	n := len(t) / every
	sums := make([][6]float64, n+1) // count, t, h, t2, th, h2
	for k := range n {
		s := sums[k]
		for m := k * every; m < (k+1)*every; m++ {
			u := t[m] - t[0]
			for c, x := range [6]float64{1, u, h[m], u * u, u * h[m], h[m] * h[m]} {
				s[c] += x
			}
		}
		sums[k+1] = s
	}
	sd := max(math.Hypot(g.sigma, fallLoose), restless(t, h, g.step))
	least, last := make([]float64, n+1), make([]int, n+1)
	for k := 1; k <= n; k++ {
		least[k] = math.Inf(1)
		for m := range k {
			if c := least[m] + lineOf(&sums[m], &sums[k]).rss/(2*sd*sd) + fallNats; c < least[k] {
				least[k], last[k] = c, m
			}
		}
	}
	var out []fallenLine
	for k := n; k > 0; k = last[k] {
		l := lineOf(&sums[last[k]], &sums[k])
		slopeSD := math.Inf(1)
		if l.spread > 0 {
			slopeSD = sd / math.Sqrt(l.spread)
		}
		x := fallenLine{from: t[last[k]*every], until: t[k*every-1], mid: t[0] + l.mid, at: l.at, speed: l.slope, midSD: sd / math.Sqrt(l.n), slopeSD: slopeSD}
		out = append([]fallenLine{x}, out...)
	}
	return out
}

// restless is what a fall's swings and gusts leave of straight lines, as each of its samples would have it if they did not err alike: by the
// means of short blocks around lines through some of them. The median leaves out those in which it falls in another way.
func restless(t, h []float64, step float64) float64 {
	n := max(int(restBlock/max(step, 1e-6)), 1)
	var left []float64
	for i := 0; i+restBlocks*n <= len(t); i += restBlocks * n / 2 {
		var s [restBlocks + 1][6]float64
		for k := range restBlocks {
			u, x := 0.0, 0.0
			for m := i + k*n; m < i+(k+1)*n; m++ {
				u, x = u+(t[m]-t[i])/float64(n), x+(h[m]-h[i])/float64(n)
			}
			s[k+1] = s[k]
			for c, y := range [6]float64{1, u, x, u * u, u * x, x * x} {
				s[k+1][c] += y
			}
		}
		left = append(left, lineOf(&s[0], &s[restBlocks]).rss/(restBlocks-2))
	}
	if len(left) < restLeast {
		return 0
	}
	return math.Sqrt(median(left) * float64(n))
}

const (
	restBlock  = 0.5 // s
	restBlocks = 8   // to a line
	restLeast  = 5   // lines that tell
)

// fittedLine is what sums give of a straight line.
type fittedLine struct{ n, mid, at, slope, spread, rss float64 }

func lineOf(a, b *[6]float64) fittedLine {
	var d [6]float64
	for c := range d {
		d[c] = b[c] - a[c]
	}
	l := fittedLine{n: d[0], mid: d[1] / d[0], at: d[2] / d[0]}
	l.spread = d[3] - d[1]*l.mid
	both, all := d[4]-d[1]*l.at, d[5]-d[2]*l.at
	if l.rss = max(all, 0); l.spread > 1e-9 {
		l.slope = both / l.spread
		l.rss = max(all-both*l.slope, 0)
	}
	return l
}

// firstByHeight is the opening of a canopy soon after the apogee: free fall up to it, and then a fall that nears the canopy's
// terminal speed, v' = g (1 - v2/w2). Each instant is tried with the terminal speed that fits it best; what all of them
// leave is the time's distribution.
func (e *examiner) firstByHeight(top, until float64) (opening, bool) {
	b := e.baro
	v := e.fall(until-max(1.5, e.fallSpan()), until)
	if v <= 0 || v > firstFast {
		return opening{}, false
	}
	i, j := b.between(top-1, until)
	if j-i < 8 {
		return opening{}, false
	}
	sd := math.Hypot(b.sigma, fallLoose)
	tt, hh := b.t[i:j], b.x[i:j]
	if n := len(tt) / fallCells; n > 1 {
		tt, hh = everyOne(tt, n), everyOne(hh, n)
	}
	var times, costs []float64
	for d := -0.4; d < min(firstLate, until-top-1.5); d += firstGrid {
		times, costs = append(times, top+d), append(costs, e.bestFall(tt, hh, top, d)/(2*sd*sd))
	}
	least := math.Inf(1)
	for _, c := range costs {
		least = min(least, c)
	}
	if free := e.fallCost(tt, hh, top, until-top, fastest) / (2 * sd * sd); free-least < fallNats {
		return opening{}, false // nothing brakes it
	}
	sum, mean, sq := 0.0, 0.0, 0.0
	for k, c := range costs {
		w := math.Exp(least - c)
		sum, mean, sq = sum+w, mean+w*times[k], sq+w*times[k]*times[k]
	}
	if sum == 0 {
		return opening{}, false
	}
	mean /= sum
	name, _ := e.byHeight()
	return opening{mean, math.Hypot(2*math.Sqrt(max(sq/sum-mean*mean, 0)), firstLoose) + b.step, name}, true
}

// bestFall is fallCost with the terminal speed that fits best.
func (e *examiner) bestFall(t, h []float64, top, after float64) float64 {
	best := math.Inf(1)
	for w := 2.0; w < fastest; w *= 1.08 {
		best = min(best, e.fallCost(t, h, top, after, w))
	}
	return best
}

// bodyBrakes says that the height after the apogee is that of a body which its own drag brakes all the way, as of one that
// tumbles, no worse than that of a free fall up to an instant and a canopy from there on.
func (e *examiner) bodyBrakes(at, top float64) bool {
	b := e.baro
	if b == nil || at < top+bodyLeast {
		return false
	}
	until := min(at+bodyAfter, e.end)
	if m, ok := e.res.first(Landing); ok {
		until = min(until, m.At)
	}
	i, j := b.between(top-1, until)
	if j-i < 8 {
		return false
	}
	t, h := b.t[i:j], b.x[i:j]
	if n := len(t) / fallCells; n > 1 {
		t, h = everyOne(t, n), everyOne(h, n)
	}
	sd := math.Hypot(b.sigma, fallLoose)
	return e.bestFall(t, h, top, 0)-e.bestFall(t, h, top, at-top) < 2*sd*sd*bodyNats
}

// everyOne gives one of so many values.
func everyOne(x []float64, n int) (out []float64) {
	for i := 0; i < len(x); i += n {
		out = append(out, x[i])
	}
	return out
}

const (
	fastest   = 250.0 // m/s that a body falls at its own speed
	bodyLeast = 1.0   // s after the apogee: sooner a canopy's fall is a tumbling body's
	bodyAfter = 6.0   // s of the fall after it that are fitted
	bodyNats  = 3.0   // that a canopy must be likelier: 20 to 1
)

// fallCost is the squared residual, in m2, of free fall from the apogee to an instant after it and a canopy of a terminal speed
// from there on, with the height that fits best.
func (e *examiner) fallCost(t, h []float64, top, after, w float64) float64 {
	x, v, at := 0.0, 0.0, top
	const step = 0.05
	sum, sq, n := 0.0, 0.0, 0.0
	for k := range t {
		fallen := x
		if t[k] < top {
			d := t[k] - top
			fallen = e.g * d * d / 2
		} else {
			for at < t[k] {
				dt := min(step, t[k]-at)
				a := e.g
				if at >= top+after {
					a = max(e.g*(1-v*v/(w*w)), -v/(4*step)) // stiff where it opens fast
				}
				x, v, at = x+dt*v+dt*dt*a/2, v+dt*a, at+dt
			}
			fallen = x
		}
		d := h[k] + fallen
		sum, sq, n = sum+d, sq+d*d, n+1
	}
	return sq - sum*sum/n
}
