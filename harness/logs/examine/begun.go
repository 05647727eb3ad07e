package examine

import (
	"math"

	"drystage/harness/logs"
	"drystage/sim"
)

// A log may begin in flight, at liftoff or later, or before it by less than the pad's rest takes to be learned. Then the part's
// rest is unknown and taken as the standard's, the speed at the log's beginning is what the heights tell, and heights are
// counted from where the rocket came down, or, where the log ends before, from where it begins.

const (
	begunSpan    = 0.6  // s of each of two stretches at the beginning in which a height must change alike, or
	begunSamples = 6    // samples of each
	begunSpeed   = 8.0  // m/s of both: wind and warming give a barometer on the pad less
	begunFix     = 20.0 // m/s of both by a receiver, whose height may settle by metres a second when it begins
	perPascal    = 8430 // m, the scale height that turns a share of the pressure into a height
	begunKnown   = 3.0  // s over which the speed at the beginning is told by heights
	levelSpan    = 2.0  // s at the end in which a height stays where the rocket lies
	levelSlow    = 1.5  // m/s by which it may seem to move
	levelRate    = 0.05 // rad/s of a gyro's noise, with which a rocket lies still
)

// roughHeight gives the log's heights in m above no level in particular, by pressure as in air of one temperature, by a barometer's own
// height, or by a receiver; nil where nothing tells a height.
func (e *examiner) roughHeight() *signal {
	b, z := &e.log.Streams[sim.PartBaro], &e.log.Streams[sim.PartGNSS]
	switch {
	case b.Len() > 50 && b.Has(logs.Pressure):
		g := take(b, logs.Pressure, sim.AllAxes, e.in)
		for i := range g.x {
			g.x[i] = -perPascal * math.Log(max(g.x[i], 1))
		}
		return g
	case b.Len() > 50:
		return take(b, logs.Height, sim.AllAxes, e.in)
	case z.Has(logs.Altitude):
		return take(z, logs.Altitude, sim.AxisZ, e.in)
	}
	return nil
}

// begins says that the log's heights move like a rocket's from its first samples on, and that they fall.
func (e *examiner) begins() (begun, falling bool) {
	g := e.roughHeight()
	if g == nil {
		return false, false
	}
	fast := begunSpeed
	if g.part == sim.PartGNSS {
		fast = begunFix
	}
	return g.movesAtOnce(fast)
}

// movesAtOnce says that a height changes alike, and fast, in two stretches at its beginning, and that it falls.
func (g *signal) movesAtOnce(fast float64) (moves, falls bool) {
	n := max(begunSamples, int(begunSpan/max(g.step, 1e-6)))
	if len(g.x) < 2*n {
		return false, false
	}
	speed := func(i int) float64 {
		return (median(g.x[i+n/2:i+n]) - median(g.x[i:i+n/2])) / max(g.t[i+n-n/4-1]-g.t[i+n/4], 1e-6)
	}
	a, b := speed(0), speed(n)
	moves = math.Abs(a) > fast && math.Abs(b) > fast && a*b > 0
	return moves, moves && b < 0
}

// turnFlying takes the axis that feels most between the log's beginning and its highest point for the one along the rocket. Thrust is
// more than drag, and points forwards; where both ways are felt, the greater is thrust. Drag alone dies away with the speed, and a
// thrust that ends falls at once.
func (e *examiner) turnFlying(a *logs.Stream) {
	until := e.highestRough()
	most := 0.0
	for axis := range 3 {
		if !a.Has(axis) {
			continue
		}
		g := take(a, axis, sim.AxisX+sim.Axis(axis), window{e.in.from, until})
		sum := 0.0
		for _, x := range g.x {
			sum += x * x
		}
		if sum <= most {
			continue
		}
		most, e.up.axis, e.up.sign = sum, axis, g.forwards()
	}
}

// forwards is the sign that turns an axis along the rocket forwards, by what it feels on the way up.
func (g *signal) forwards() float64 {
	n := max(int(0.1/max(g.step, 1e-6)), 3)
	low, high, fell := 0.0, 0.0, 0.0
	was := math.NaN()
	for i := 0; i+n <= len(g.x); i += n {
		m := median(g.x[i : i+n])
		low, high = min(low, m), max(high, m)
		if d := math.Abs(was) - math.Abs(m); d > fell {
			fell = d
		}
		was = m
	}
	more, less := high, -low
	if less > more {
		more, less = less, more
	}
	sign := 1.0
	if -low > high {
		sign = -1
	}
	if less < bothWays && fell < atOnce*more { // drag alone
		return -sign
	}
	return sign
}

const (
	bothWays = 1.0  // m/s2 that are felt both ways by more than an accelerometer's bias
	atOnce   = 0.35 // of what is felt that drag loses at most within a tenth of a second
)

// highestRough is about when the log's heights are greatest.
func (e *examiner) highestRough() float64 {
	most, at := math.Inf(-1), e.in.until
	g := e.roughHeight()
	if g == nil {
		return at
	}
	for i := 2; i+2 < len(g.x); i++ {
		if m := median(g.x[i-2 : i+3]); m > most {
			most, at = m, g.t[i]
		}
	}
	return at
}

// restUnknown learns what the ground after the flight tells of the rest.
func (e *examiner) restUnknown() {
	e.begun, e.padEnd = true, e.in.from
	for i, g := range e.gyro {
		if g != nil {
			if m, sd, n := g.mean(e.end-1, e.end); n > 8 && sd < levelRate {
				e.gyroOff[i] = m
			}
		}
	}
}

// groundOf gives the samples of a height, or of a pressure, by which heights are counted in a log that begins in flight, and says where
// that is. perMetre is how much of it a metre is.
func (e *examiner) groundOf(g *signal, perMetre float64) (x []float64, where string) {
	i := g.index(e.end - levelSpan)
	if n := len(g.x); n-i < 8 {
		i = max(n-8, 0)
	}
	if end := g.x[i:]; len(end) >= 8 {
		h := len(end) / 2
		if move := math.Abs(median(end[:h])-median(end[h:])) / perMetre; move < levelSlow*(g.t[len(g.t)-1]-g.t[i])/2 {
			return end, "where the rocket came down"
		}
	}
	return g.x[:min(len(g.x), 3)], "the log's first samples, which are in flight"
}

// noLiftoff says what a log that begins in flight does not tell.
func (e *examiner) noLiftoff(where string) {
	s := "liftoff: it is not in the log, which begins in flight; heights are counted from " + where
	if e.accel[0] != nil {
		s += ", and the accelerometer's rest is unknown"
	}
	e.res.Untold = append(e.res.Untold, s)
}

// noApogee says what a log that begins on the way down does not tell.
func (e *examiner) noApogee() {
	s := "apogee: it is not in the log, which begins on the way down"
	if e.hung() {
		s += "; it hangs under a canopy then, which counts as the first one"
	}
	e.res.Untold = append(e.res.Untold, s)
}

// hung says that a log which begins on the way down begins under a canopy: its fall gains far less speed than a free one.
func (e *examiner) hung() bool {
	span := max(hungSpan, e.fallSpan())
	a, b := e.fall(e.in.from, e.in.from+span), e.fall(e.in.from+span, e.in.from+2*span)
	return e.falling && a > 0 && b > 0 && b-a < hungGains*e.g*span
}

const (
	hungSpan  = 1.5 // s of each of two stretches whose falls are compared, and
	hungGains = 0.3 // of what a free fall gains between them, that one under a canopy gains at most
)

// launched gives the speed and the height at the beginning of a log that begins in flight: what height and time leave of the motion by
// the accelerometer in its first seconds.
func (e *examiner) launched() (v, h float64) {
	b := e.anyHeight()
	if b == nil {
		return 0, 0
	}
	late := 0.0
	if b.part == sim.PartGNSS {
		late = e.behind.at
	} else {
		late = e.lag.known()
	}
	i, j := b.between(e.in.from, max(min(e.in.from+begunKnown, e.highestRough()), e.in.from+2*begunSamples*b.step))
	var n, st, stt, sx, stx float64
	for ; i < j; i++ {
		if b.mask[i] {
			continue
		}
		t := b.t[i] - late
		x := b.x[i] - e.sway.at(t)
		u := t - e.in.from
		n, st, stt, sx, stx = n+1, st+u, stt+u*u, sx+x, stx+u*x
	}
	d := n*stt - st*st
	if n < 3 || d <= 0 {
		return 0, 0
	}
	v = (n*stx - st*sx) / d
	return v, (sx - v*st) / n
}
