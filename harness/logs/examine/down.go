package examine

import (
	"math"

	"drystage/sim"
)

// force is the size of what the accelerometer feels, mended.
func (e *examiner) force() []float64 {
	m := e.mended()
	f := make([]float64, len(e.accel[0].t))
	for i := range f {
		s := 0.0
		for k := range m {
			s += m[k].at(i) * m[k].at(i)
		}
		f[i] = math.Sqrt(s)
	}
	return f
}

// chutes finds where the fall is braked anew: the speed of the fall is much smaller afterwards than it
// would have been.
func (e *examiner) chutes() {
	top, ok := e.res.first(Apogee)
	if !ok || e.accel[0] == nil {
		return
	}
	a, f := e.accel[0], e.force()
	n := 0
	if i := e.opens(f, a.index(top.At-0.5)); i > 0 {
		n++
		at, within := e.fired(a.t[i], e.doubt(a, a.t[i], 0.06))
		e.moment(Deployment, n, at, within, "the accelerometer")
	}
	steady := a.index(top.At + 4)
	for i := steady; i < len(f); i++ {
		// Hanging under a parachute at a steady speed feels one g; what is more brakes.
		if f[i] < e.g+2.5 || a.mask[i] {
			continue
		}
		j, v := i, 0.0
		for ; j < len(f)-1 && f[j] > e.g+0.3; j++ {
			v += (f[j] - e.g) * (a.t[j+1] - a.t[j])
		}
		for i > 1 && (f[i-1] > e.g+5*a.sigma || f[i-2] > e.g+5*a.sigma) {
			i--
		}
		if before, after := e.fall(a.t[i]-1.5, a.t[i]-0.2), e.fall(a.t[j]+1, a.t[j]+3); v > 1 && before > 0 && after < 0.75*before && after > 0 {
			n++
			e.moment(Deployment, n, a.t[i], e.doubt(a, a.t[i], 0.06), "the accelerometer")
		}
		i = max(i, j)
	}
}

// fired moves an opening to the charge near it: the accelerometer of a rocket that tumbles shows a soft
// opening late or early.
func (e *examiner) fired(at, within float64) (float64, float64) {
	for _, f := range e.res.Findings {
		if d := math.Abs(f.From - at); f.Kind == Spike && f.Part == sim.PartBaro && f.Explanations != nil && f.Explanations[0].Cause == Pressured && d > chargeSure && d < chargeFar {
			return f.From + f.Within, chargeSure
		}
	}
	return at, within
}

const (
	chargeSure = 0.15 // s between a charge and the line stretch after it
	chargeFar  = 1.2  // s by which an opening may be seen away from its charge
)

// opens finds the kink at which the force on the way down begins to grow beyond that of free fall: a
// device that opens goes on pulling, where a shock is over soon.
func (e *examiner) opens(f []float64, from int) int {
	a := e.accel[0]
	rest := median(f[max(from-int(0.5/a.step), 0) : from+1])
	for i := from; i < len(f) && a.t[i] < a.t[from]+15; i++ {
		if f[i] < rest+3 || a.mask[i] || !stays(f, i, int(0.3/a.step), rest+1) {
			continue
		}
		best, most := i, 0.0
		arm := max(int(0.1/a.step), 5)
		for k := max(i-int(1/a.step), from); k <= i; k++ {
			lo, hi := max(k-arm, 0), min(k+arm, len(f)-1)
			left, sl := straight(a.t[lo:k+1], f[lo:k+1])
			right, sr := straight(a.t[k:hi+1], f[k:hi+1])
			one, _ := straight(a.t[lo:hi+1], f[lo:hi+1])
			if gain := one - left - right; sr > sl+1 && gain > most {
				best, most = k, gain
			}
		}
		return best
	}
	return 0
}

// stays says that n samples stay above a level, but for single ones.
func stays(f []float64, from, n int, level float64) bool {
	if from+n+3 > len(f) {
		return false
	}
	for i := from; i < from+n; i += 2 {
		if median(f[i:i+3]) < level {
			return false
		}
	}
	return true
}

// fall is the mean speed downwards over a stretch; 0 when it isn't known.
func (e *examiner) fall(from, until float64) float64 {
	if e.vup != nil {
		if m, _, n := e.vup.mean(from, until); n > 3 {
			return -m
		}
	}
	if e.baro != nil {
		if s, sd := e.baro.line(from, until, 1); sd > 0 {
			return -s
		}
	}
	return 0
}

// landing is where the line of the fall meets the ground on which the height then stays.
func (e *examiner) landing() {
	b := e.baro
	if b == nil || len(b.x) < 100 || e.end < e.top+2 {
		return
	}
	ground := median(b.x[len(b.x)-min(len(b.x), 25):])
	// The last sample that is clearly above the ground.
	i := len(b.x) - 1
	clear := 5*b.sigma + 0.3
	for i > 3 && (b.mask[i] || b.x[i]-ground < clear || b.x[i-1]-ground < clear || b.x[i-2]-ground < clear) {
		i--
	}
	if e.end-b.t[i] < 0.5 || b.t[i] < e.top {
		return // still falling when the log ends
	}
	slope, sd := b.line(b.t[i]-3, b.t[i]-0.05, 1)
	m, _, n := b.mean(b.t[i]-3, b.t[i]-0.05)
	if n < 20 || slope > -0.8 {
		return
	}
	ground, _, _ = b.mean(b.t[i]+(clear+0.5)/-slope, e.end+1)
	at := b.t[i] - 1.525 + (ground-m)/slope
	within := 2 * math.Hypot(b.sigma/3/-slope, sd*1.6/-slope)
	from, open := e.byHeight()
	if open > 0 { // a receiver's height wanders slowly, which no mean takes out
		within = open + 2*math.Hypot(b.sigma/-slope, sd*1.6/-slope)
	}
	if t, ok := e.thud(at-max(0.3, within), at+max(0.3, within)); ok {
		at, within, from = t, 2*e.accel[0].step, "the barometer and a thud"
	}
	e.res.Touchdown = Touchdown{Speed: -slope, Within: 2 * sd}
	e.moment(Landing, 0, at, within, from)
}

// thud is the strongest break of accelerometer or gyro in a short stretch.
func (e *examiner) thud(from, until float64) (t float64, ok bool) {
	best := 0.0
	for _, g := range []*signal{e.accel[0], e.accel[1], e.accel[2], e.gyro[0], e.gyro[1], e.gyro[2]} {
		if g == nil {
			continue
		}
		for _, x := range g.edges(from, until) {
			if math.Abs(x.score) > best {
				best, t = math.Abs(x.score), x.t
			}
		}
	}
	return t, best > 0
}
