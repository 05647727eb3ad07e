package examine

import (
	"fmt"
	"math"
	"slices"

	"drystage/sim"
)

const (
	noisyBlock   = 0.025 // s whose noise is taken together; four samples at least
	noisyTimes   = 3.0   // times the usual noise of two axes at once, from which a block is loud
	noisyLeast   = 3     // such blocks
	noisyShort   = 0.12  // s that such a stretch lasts at least
	noisyOne     = 6.0   // nats that a stretch of noise costs, and
	shockOne     = 5.0   // each shock: both are as rare as a fault of a sensor
	thirdDepends = 2.31  // third differences of white noise that tell as much as one independent sample: 1 + 2 (0.75^2 + 0.3^2 + 0.05^2)
	noisyGyro    = 2.0   // times its usual noise from which a gyro is shaken too
	noisyHides   = 0.2   // s before the last clear push of a motor that noise leaves open
	noisyAlone   = 0.7   // of belief in the sensor where no gyro tells whether the board was shaken
)

// blocks3 is the noise of all axes of the accelerometer in blocks: the sums of their squared third differences, as of samples.
type blocks3 struct {
	axes  []*signal
	size  int         // samples of a block
	ss    [][]float64 // by axis and block
	n     float64     // independent samples of a block
	usual [][]float64 // by axis and block, one standard deviation
}

// noisyTogether finds stretches outside burns in which all axes of the accelerometer are noisy at once, and hides them: every
// few of their samples look like a shock, so stages would part there, and the air brake for a sample. One stretch of noise
// competes with the sum of as many shocks as it takes, each of which dies away.
func (e *examiner) noisyTogether() (found bool) {
	if e.accel[0] == nil || e.axes() < 2 {
		return false
	}
	b, pushes := e.blocks3(), e.pushes()
	for _, w := range e.coastsAndFall(pushes) {
		from, until := e.accel[0].between(w.from, w.until)
		i, j := (from+b.size-1)/b.size, until/b.size
		if j-i < 2*noisyLeast {
			continue
		}
		for _, r := range b.stretches(i, j, e.rise.at) {
			found = e.noisyStretch(&b, r[0], r[1], w) || found
		}
		for k := range b.axes { // one axis alone, where it was taken for a part of a burn; elsewhere its noise is looked at later
			one := b.only(k)
			for _, r := range one.stretches(i, j, e.rise.at) {
				if t := b.axes[k].t[(r[0]+r[1])/2*b.size]; e.burning(t) && b.quietBeside(k, r[0], r[1]) {
					found = e.noisyStretch(&one, r[0], r[1], w) || found
				}
			}
		}
	}
	return found
}

// stretches lists those between two blocks that one level of noise explains better than shocks do.
func (b *blocks3) stretches(i, j int, speed func(t float64) float64) [][2]int {
	b.learn(i, j, speed)
	return slices.DeleteFunc(b.runs(i, j, noisyTimes), func(r [2]int) bool { return b.oneStretch(r[0], r[1]) >= b.manyShocks(r[0], r[1]) })
}

// only is the blocks of one axis.
func (b *blocks3) only(k int) blocks3 {
	return blocks3{axes: b.axes[k : k+1], size: b.size, n: b.n, ss: b.ss[k : k+1], usual: [][]float64{make([]float64, len(b.ss[k]))}}
}

// quietBeside says that no other axis is noisy in most of some blocks.
func (b *blocks3) quietBeside(k, i, j int) bool {
	for o := range b.axes {
		loud := 0
		for m := i; m < j; m++ {
			if b.ss[o][m] > b.n*math.Pow(loneQuiet*b.usual[o][m], 2) {
				loud++
			}
		}
		if o != k && 2*loud > j-i {
			return false
		}
	}
	return true
}

// coastsAndFall gives what lies between burns, and after them until the landing, without what canopies shake as they open.
func (e *examiner) coastsAndFall(burns []window) (out []window) {
	from := e.lift
	if len(burns) > 0 {
		from = burns[0].until
	}
	until := e.end
	if m, ok := e.res.first(Landing); ok {
		until = m.At - beforeGround
	}
	cut := func(at, again float64) {
		if at > from {
			out = append(out, window{from, at})
		}
		from = max(from, again)
	}
	for _, w := range burns[min(1, len(burns)):] {
		cut(w.from, w.until)
	}
	for _, m := range e.res.Moments {
		if m.Event == Deployment {
			cut(m.At-m.Within, m.At+m.Within+2*fills)
		}
	}
	cut(until, until)
	return out
}

// pushes are the burns as far as what is felt along the rocket pushes it: noise beside one may have been taken for a part of it.
func (e *examiner) pushes() (out []window) {
	a := e.accel[0]
	for _, b := range e.burns {
		level, _, _ := a.felt(b.On.At, b.Off.At)
		w := window{math.Inf(1), b.On.At}
		span := max(noisyBlock, 4*a.step)
		for t := b.On.At - span/2; t < b.Off.At; t += span / 2 {
			if m, sd, n := a.felt(t, t+span); n > 2 && m-2*sd/math.Sqrt(float64(n)) > pushLeast*level {
				w.from, w.until = min(w.from, t), t+span
			}
		}
		out = append(out, window{min(w.from, b.Off.At) - burnEdge, min(w.until, b.Off.At) + burnEdge})
	}
	return out
}

// felt is mean with bounds as what they are at least.
func (g *signal) felt(from, until float64) (m, sd float64, n int) {
	i, j := g.between(from, until)
	all := signal{t: g.t[i:j], x: g.x[i:j], mask: make([]bool, j-i)}
	for k := range all.mask {
		all.mask[k] = g.lost(i + k)
	}
	return all.mean(from, until)
}

const (
	pushLeast  = 0.15 // of a burn's mean level, that its last tenths of a second push
	pushUnseen = 1.5  // m/s2 felt forwards, which bias and scale make of a coast; common practice, no source
)

func (e *examiner) blocks3() (b blocks3) {
	for _, a := range e.accel {
		if a != nil && len(a.x) == len(e.accel[0].x) {
			b.axes = append(b.axes, a)
		}
	}
	b.size = max(int(math.Round(noisyBlock/e.accel[0].step)), 4)
	b.n = float64(b.size) / thirdDepends
	for _, a := range b.axes {
		ss := make([]float64, len(a.x)/b.size)
		for k := range ss {
			for i := max(k*b.size, 3); i < (k+1)*b.size; i++ {
				if !a.mask[i] && !a.mask[i-1] && !a.mask[i-2] && !a.mask[i-3] && a.t[i]-a.t[i-3] < 4*a.step {
					d := a.x[i] - 3*a.x[i-1] + 3*a.x[i-2] - a.x[i-3]
					ss[k] += d * d / 20 / thirdDepends
				}
			}
		}
		b.ss, b.usual = append(b.ss, ss), append(b.usual, make([]float64, len(ss)))
	}
	return b
}

// learn takes the noise of the quietest quarter of some blocks for the usual one, as a share of the speed where there is one:
// the air's buffet goes with it.
func (b *blocks3) learn(i, j int, speed func(t float64) float64) {
	for k, ss := range b.ss {
		g := b.axes[k]
		least := max(g.sigma, 0.02)
		share, v := make([]float64, 0, j-i), make([]float64, 0, j-i)
		for m := i; m < j; m++ {
			v = append(v, max(math.Abs(speed(g.t[m*b.size])), buffetSlow))
			share = append(share, math.Sqrt(max(ss[m]/b.n-least*least, 0))/v[m-i])
		}
		quiet := slices.Clone(share)
		slices.Sort(quiet)
		for m := i; m < j; m++ {
			b.usual[k][m] = math.Hypot(least, quiet[len(quiet)/4]*v[m-i])
		}
	}
}

// over is by how many times the usual noise a block is loud, on the second loudest axis of several.
func (b *blocks3) over(i int) float64 {
	var z []float64
	for k, ss := range b.ss {
		z = append(z, math.Sqrt(ss[i]/b.n)/b.usual[k][i])
	}
	slices.Sort(z)
	return z[max(len(z)-2, 0)]
}

// runs lists the stretches of blocks louder than so many times the usual noise; one quiet block among them may be chance. In
// each, what is far quieter than most of it belongs to what is beside it.
func (b *blocks3) runs(i, j int, times float64) (out [][2]int) {
	for ; i < j; i++ {
		if b.over(i) < times {
			continue
		}
		last := i
		for k := i; k < min(j, last+3); k++ {
			if b.over(k) >= times {
				last = k
			}
		}
		if last+1-i >= noisyLeast {
			var all []float64
			for k := i; k <= last; k++ {
				all = append(all, b.over(k))
			}
			slices.Sort(all)
			if within := all[len(all)*3/4] / noisyTimes; within > times*1.01 {
				out = append(out, b.runs(i, last+1, within)...)
			} else if median(all) > burstSigmas { // less is the air's, whose buffet comes and goes
				out = append(out, [2]int{i, last + 1})
			}
		}
		i = last + 1
	}
	return out
}

// oneStretch is minus the logarithm of the likelihood of some blocks as noise of one level by axis, up to a constant.
func (b *blocks3) oneStretch(i, j int) float64 {
	c := noisyOne
	for _, ss := range b.ss {
		sum, n := 0.0, b.n*float64(j-i)
		for _, x := range ss[i:j] {
			sum += x
		}
		c += n/2*math.Log(max(sum/n, 1e-6)) + n/2 + math.Log(n)/2
	}
	return c
}

// manyShocks is the same for as many shocks as suit best, each with a level by axis that dies away, by dynamic programming
// over where each of them begins.
func (b *blocks3) manyShocks(i, j int) float64 {
	best := make([]float64, j-i+1)
	for m := 1; m <= j-i; m++ {
		best[m] = math.Inf(1)
		for from := max(0, m-shockBlocks); from < m; from++ {
			best[m] = min(best[m], best[from]+shockOne+b.oneShock(i+from, i+m))
		}
	}
	return best[j-i]
}

const shockBlocks = 20 // at most that one shock is tried over: it has died away long before

// oneShock is the same for one shock, with the fading that suits best.
func (b *blocks3) oneShock(i, j int) float64 {
	best := math.Inf(1)
	for _, fades := range shockFades {
		fade := math.Exp(-2 * float64(b.size) * b.axes[0].step / fades) // of the variance, by block
		c := 0.0
		for k, ss := range b.ss {
			w, level, n := 1.0, 0.0, float64(min(j-i, 2))
			for _, x := range ss[i : i+int(n)] {
				level += x / b.n / w / n
				w *= fade
			}
			w = 1
			for m, x := range ss[i:j] {
				v := level*w + b.usual[k][i+m]*b.usual[k][i+m]
				c += b.n/2*math.Log(v) + x/(2*v)
				w *= fade
			}
			c += math.Log(b.n*float64(j-i)) / 2
		}
		best = min(best, c)
	}
	return best
}

// shockFades are the times, in s, in which a shock's ringing may die away by a factor of e; common practice, no source.
var shockFades = []float64{0.005, 0.012, 0.03}

// noisyStretch notes a stretch of noise, and hides it. What goes on from a burn, or into one, may be the motor's.
func (e *examiner) noisyStretch(b *blocks3, i, j int, w window) bool {
	from, until := len(e.accel[0].x), 0
	size := 0.0
	for k, a := range b.axes {
		lo, hi := a.trim(max((i-1)*b.size, 0), min((j+1)*b.size, len(a.x)))
		if lo < hi {
			from, until = min(from, lo), max(until, hi)
		}
		sum := 0.0
		for _, x := range b.ss[k][i:j] {
			sum += x / b.n / float64(j-i)
		}
		size = max(size, math.Sqrt(sum))
	}
	a := e.accel[0]
	if from >= until {
		return false
	}
	f := Finding{Kind: NoiseBurst, Part: sim.PartAccel, Axis: sim.AllAxes, From: a.t[from], Until: a.t[until-1] + a.step, Within: 2 * a.step, Size: size}
	if f.Until-f.From < noisyShort {
		return false
	}
	least := pushUnseen
	if f.From > e.top { // a canopy pulls, too
		least = 2 * e.g
	}
	if m, sd, k := a.felt(f.From, f.Until); m-3*sd/math.Sqrt(float64(max(k, 1))) > least {
		return false // a motor that was not found pushes and shakes
	}
	motors := f.From < w.from+2*noisyBlock && f.Until < w.from+burstTail || f.Until > w.until-2*noisyBlock && f.From > w.until-burstTail
	if motors && f.From < e.top {
		return false
	}
	alone := len(b.axes) < e.axes()
	if alone {
		f.Axis = b.axes[0].axis
	}
	n := b.n * float64((j-i)*len(b.axes))
	f.SizeWithin, f.Strength = 2*size/math.Sqrt(2*n), size/a.sigma*math.Sqrt(n)
	own := Explanation{Cause: Sensor, Share: noisyAlone, For: []string{fmt.Sprintf("all of its axes are as noisy for %.2f s: shocks die away", f.Until-f.From)}}
	real := Explanation{Cause: Shock, For: []string{"something may have shaken the board all the time"}}
	switch told, shaken := e.gyroShaken(f.From, f.Until); {
	case alone:
		own.Share, own.For, real.Against = 0.9, []string{"no other axis is noisy, and nothing pushes"}, []string{"what shakes a board, shakes all of its axes"}
	case told && shaken:
		own.Share, real.For = 0.2, append(real.For, "the gyro was shaken too")
	case told:
		own.Share, own.For, real.Against = 0.9, append(own.For, "the gyro was not shaken"), append(real.Against, "the gyro was not shaken")
	}
	real.Share = 1 - own.Share
	f.Explanations = []Explanation{own, real}
	if real.Share > own.Share {
		f.Explanations = []Explanation{real, own}
	}
	hidden := f.From
	if alone { // it may have begun while the motor pushed, whose end it hides
		hidden = min(hidden, w.from-noisyHides)
	}
	for _, x := range b.axes {
		x.hide(hidden-3*x.step, f.Until+3*x.step)
	}
	e.found(f)
	return true
}

// gyroShaken says whether a gyro tells, and whether it was noisier in a stretch than on either side of it.
func (e *examiner) gyroShaken(from, until float64) (told, shaken bool) {
	for _, g := range e.gyro {
		if g == nil {
			continue
		}
		told, shaken = true, shaken || g.louder(from, until) > noisyGyro
	}
	return told, shaken
}
