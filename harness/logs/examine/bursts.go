package examine

import (
	"math"
	"slices"

	"drystage/sim"
)

// bursts finds stretches in which a channel's third differences are more than three times as large as
// before and after, and rough: a smooth bump has large first differences too, and a single jump
// doesn't move a median.
func (e *examiner) bursts() {
	for _, g := range e.signals() {
		if g == e.vup || len(g.x) < 100 {
			continue
		}
		var w = min(12, max(6, len(g.x)/100))
		var hot []bool
		for i := 0; i+w+3 <= len(g.x); i += w / 2 {
			hot = append(hot, g.rough(i, w))
		}
		for i := 0; i < len(hot); i++ {
			if !hot[i] {
				continue
			}
			j := i
			for j < len(hot) && (hot[j] || j+1 < len(hot) && hot[j+1]) {
				j++
			}
			from, until := g.trim(i*(w/2), min((j-1)*(w/2)+w+3, len(g.x)))
			if g.lasting(until-from, j-i, w) && !e.burstApartFromBurns(g, from, until) {
				e.burst(g, from, until)
			}
			i = j
		}
	}
}

// lasting says that so many rough samples in so many windows of w are more than a few jumps: shocks ring in accelerometers
// and gyros, and what else a channel does has no more than two jumps.
func (g *signal) lasting(samples, windows, w int) bool {
	if g.part == sim.PartAccel || g.part == sim.PartGyro {
		return samples >= min(w+4, 16) && windows >= 2
	}
	return samples >= burstLeast
}

// burstApartFromBurns judges a burst that goes on into a burn, or begins in one, by what of it lies outside, where no motor
// shakes; false where too little does.
func (e *examiner) burstApartFromBurns(g *signal, i, j int) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro {
		return false
	}
	from, until := g.t[i], g.t[j-1]
	for _, b := range e.burns {
		if on := b.On.At - burnEdge - 2*g.step; from < on && until > on {
			until = on
		}
		if off := b.Off.At + burstTail; from > b.On.At && from < off && until > off {
			from = off
		}
	}
	if k, n := g.between(from, until); n-k < j-i && n-k >= burstOutside && until-from > burstTail {
		before := len(e.res.Findings)
		if e.burst(g, k, n); len(e.res.Findings) > before {
			f := &e.res.Findings[before]
			f.From, f.Until = g.t[i], g.t[j-1]+g.step
			g.hide(f.From-2*g.step, f.Until+2*g.step)
			return true
		}
	}
	return false
}

// rough says that w samples from i on are noisier than the channel is.
func (g *signal) rough(i, w int) bool {
	var d3, d1 []float64
	for k := i + 3; k < i+w+3 && k < len(g.x); k++ {
		if g.mask[k] || g.mask[k-3] || g.t[k]-g.t[k-3] > 4*g.step {
			continue
		}
		d3 = append(d3, math.Abs(g.x[k]-3*g.x[k-1]+3*g.x[k-2]-g.x[k-3]))
		d1 = append(d1, math.Abs(g.x[k]-g.x[k-1]))
	}
	m := median(d3)
	return len(d3) >= w*2/3 && m > 3*0.6745*math.Sqrt(20)*g.loudest(g.t[i], g.t[min(i+w+2, len(g.t)-1)]) && m > 1.5*median(d1)
}

// trim narrows a range of samples to where the noise is.
func (g *signal) trim(i, j int) (int, int) {
	loud := func(k int) bool {
		return k >= 2 && k+1 < len(g.x) && math.Abs(g.x[k]-(g.x[k-1]+g.x[k+1])/2) > 3.5*math.Sqrt(1.5)*g.sd(g.t[k])
	}
	for i < j && !loud(i) {
		i++
	}
	for j > i && !loud(j-1) {
		j--
	}
	return i, j
}

// burstSigmas is how many times the usual noise a burst has: less is the air's, whose buffet comes and goes.
const burstSigmas = 6.0

const handled = 0.6 // of belief, before all data, that what shakes on the pad is the rocket; common practice, no source

// shaken says that another axis or part is rough at the same time: then the board was shaken.
func (e *examiner) shaken(g *signal, from, until float64) bool {
	for _, o := range []*signal{e.accel[0], e.accel[1], e.accel[2], e.gyro[0], e.gyro[1], e.gyro[2]} {
		if o == nil || o == g || o.part != g.part && g.part == sim.PartBaro {
			continue
		}
		i, j := o.between(from, until)
		if j-i >= 8 && noise(o.x[i:j]) > burstSigmas*o.loudest(from, until) {
			return true
		}
	}
	return false
}

func (e *examiner) burst(g *signal, i, j int) {
	var d []float64
	for k := max(i+3, 3); k < j; k++ {
		d = append(d, g.x[k]-3*g.x[k-1]+3*g.x[k-2]-g.x[k-3])
	}
	if len(d) < 3 {
		return
	}
	sq, usually := 0.0, make([]float64, len(d))
	for i, x := range d {
		sq += x * x / 20
		usually[i] = math.Abs(x) / 0.6745 / math.Sqrt(20)
	}
	if median(usually) < burstEven*math.Sqrt(sq/float64(len(d))) {
		return // one or two jumps with calm beside them
	}
	usual := g.loudest(g.t[i], g.t[j-1])
	size := math.Sqrt(max(sq/float64(len(d))-usual*usual, 0))
	lone := e.loneBurst(g, g.t[i], g.t[j-1])
	if g.part == sim.PartGNSS && size < wander {
		return
	}
	if !lone && size < burstSigmas*usual || size < loneTimes*usual || e.shaken(g, g.t[i], g.t[j-1]) || g.part != sim.PartBaro && e.inShock(g.t[i], g.t[j-1]) {
		return
	}
	if on := !lone && g.t[i] > e.padEnd-0.1 && g.t[i] < e.padEnd+1; on && j-i < 30 {
		return // the second case is the rail's rattle
	}
	if size < burstApart*e.beside(g, g.t[i], g.t[j-1]) || !lone && e.vibrates(g, g.t[i], g.t[j-1]) {
		return
	}
	f := Finding{Kind: NoiseBurst, Part: g.part, Axis: g.axis, From: g.t[i], Until: g.t[j-1] + g.step, Within: 2 * g.step,
		Size: size, SizeWithin: 2 * size / math.Sqrt(2*float64(len(d))/3), Strength: size / g.sigma * math.Sqrt(float64(len(d)))}
	f.Explanations = []Explanation{
		{Cause: Sensor, Share: 0.9, For: []string{"it jumps up and down from sample to sample"}},
		{Cause: Shock, Share: 0.1, For: []string{"a motor or a loose part can shake a board"}, Against: []string{"no other part shows it"}},
	}
	if g == e.accel[0] && e.lonely(g) && f.Until < e.padEnd { // on the pad, where no other axis can tell
		f.Explanations = []Explanation{
			{Cause: Shock, Share: handled, For: []string{"hands and wind shake a rocket on the pad"}},
			{Cause: Sensor, Share: 1 - handled, For: []string{"it jumps up and down from sample to sample"}},
		}
	}
	g.hide(f.From-2*g.step, f.Until+2*g.step)
	if e.kick(f) {
		return
	}
	e.absorb(&f, g.step)
	// Noise has quiet moments; bursts with little between them are one.
	if n := len(e.res.Findings) - 1; n >= 0 {
		if l := &e.res.Findings[n]; l.Kind == NoiseBurst && l.Part == f.Part && l.Axis == f.Axis && f.From-l.Until < max(0.3, 0.2*(f.Until-l.From)) {
			g.hide(l.Until, f.From)
			w := (l.Until - l.From) / (l.Until - l.From + f.Until - f.From)
			l.Size = math.Sqrt(w*l.Size*l.Size + (1-w)*f.Size*f.Size)
			l.Until, l.SizeWithin, l.Strength = f.Until, min(l.SizeWithin, f.SizeWithin), math.Hypot(l.Strength, f.Strength)
			return
		}
	}
	e.found(f)
}

// absorb takes single samples that were found to stand out in a burst, or at its edge, for a part of it.
func (e *examiner) absorb(f *Finding, step float64) {
	near := burstSpikes * step
	e.res.Findings = slices.DeleteFunc(e.res.Findings, func(x Finding) bool {
		in := x.Kind == Spike && x.Part == f.Part && x.Axis == f.Axis && x.Until-x.From < 1.5*step && x.From > f.From-near && x.Until < f.Until+near
		if in {
			f.From, f.Until = min(f.From, x.From), max(f.Until, x.Until)
		}
		return in
	})
}

const (
	burstSpikes  = 4.0 // samples from a burst to one that is a part of it
	burstLeast   = 8   // rough samples of a burst: the third differences of two jumps touch no more
	burstApart   = 3.0 // times the noise on either side of it that a burst has: the air's buffet comes and goes slowly
	burstEven    = 0.4 // of the root mean square of its differences, that their median tells; 1 for normal noise
	burstTail    = 0.5 // s after a burnout in which a motor may still shake
	burstOutside = 30  // samples of a burst outside burns that are judged alone
	burstBurn    = 0.5 // of a burn that a burst lasts in it to be the motor's
)

// loneBurst says that a part has other axes, and that none of them is much louder in a stretch than on either side of it,
// where this one is: what shakes a board, shakes all of its axes.
func (e *examiner) loneBurst(g *signal, from, until float64) bool {
	axes := e.accel
	if g.part == sim.PartGyro {
		axes = e.gyro
	} else if g.part != sim.PartAccel {
		return false
	}
	others, d := 0, max(until-from, 20*g.step)
	if i, j := g.between(from-d, until+d); g.rail != nil && slices.Contains(g.rail[i:j], true) {
		return false // what is cut off has no noise, beside which the rest seems loud
	}
	for _, o := range axes {
		if o == nil || o == g {
			continue
		}
		around := max(o.shake(from-d, from-2*o.step), o.shake(until+2*o.step, until+d), 1e-9)
		if others++; o.shake(from, until) > loneQuiet*around {
			return false
		}
	}
	return others > 0 && g.louder(from, until) > loneTimes
}

// louder is how many times the noise on the louder side of a stretch a channel has in it.
func (g *signal) louder(from, until float64) float64 {
	d := max(until-from, 20*g.step)
	in := func(from, until float64) float64 {
		i, j := g.between(from, until)
		x := make([]float64, 0, j-i)
		for k := i; k < j; k++ {
			if !g.mask[k] {
				x = append(x, g.x[k])
			}
		}
		return noise(x)
	}
	return in(from, until) / max(in(from-d, from-2*g.step), in(until+2*g.step, until+d), 1e-9)
}

// shake is the usual scatter of a channel about straight lines of shakeSpan: it tells vibration of any frequency, where
// differences from sample to sample tell high ones only.
func (g *signal) shake(from, until float64) float64 {
	var out []float64
	span := max(shakeSpan, 8*g.step)
	for t := from; t+span/2 <= until; t += span {
		i, j := g.between(t, min(t+span, until))
		if j-i < 4 {
			continue
		}
		sse, _ := straight(g.t[i:j], g.x[i:j])
		out = append(out, math.Sqrt(max(sse, 0)/float64(j-i-2)))
	}
	return median(out)
}

const shakeSpan = 0.1 // s, longer than vibration swings one way

const (
	loneTimes = 3.0 // times the noise around it that a burst has which only one axis shows
	loneQuiet = 1.5 // times the noise around it that other axes have at most then
)

// beside is the greater noise on both sides of a stretch, as far as no motor burns there.
func (e *examiner) beside(g *signal, from, until float64) (sd float64) {
	d := max(until-from, 20*g.step)
	for _, w := range []window{{from - d, from - 2*g.step}, {until + 2*g.step, until + d}} {
		if e.burning(w.from) || e.burning(w.until) {
			continue
		}
		i, j := g.between(w.from, w.until)
		var x []float64
		for k := i; k < j; k++ {
			if !g.mask[k] {
				x = append(x, g.x[k])
			}
		}
		sd = max(sd, noise(x))
	}
	return sd
}

// vibrates says that a burst is a motor's vibration: it lies in a burn and lasts for most of it.
func (e *examiner) vibrates(g *signal, from, until float64) bool {
	if g.part != sim.PartAccel && g.part != sim.PartGyro {
		return false
	}
	for _, b := range e.burns {
		edge := max(burnEdge, 3*g.step)
		if from > b.On.At-edge && from < b.Off.At+edge && until < b.Off.At+burstTail {
			return true
		}
		if from > b.On.At-edge && until < b.Off.At+edge && until-from > burstBurn*(b.Off.At-b.On.At) {
			return true
		}
	}
	return false
}
