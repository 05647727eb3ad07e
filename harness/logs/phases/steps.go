package phases

import "math"

// Split is an instant in a coast at which what is felt changes for good, or a shock.
type Split struct {
	At    Edge
	Gain  float64 // nats by which a change is likelier than none
	Step  float64 // m/s2, of the felt level
	Shock bool    // the samples ring, as a structure does that was struck
}

const (
	leastRing   = 0.45 // von Neumann's ratio of the mean square successive difference to the variance: 2 for noise, near 0 for a ramp
	strong      = 8.0  // times the noise of the coast after it
	longestBlow = 0.16 // s: structures ring at 50 Hz and more, and damp within some swings
	stepGain    = 12.0 // nats that a change of level must bring
	stepLeast   = 0.5  // m/s2
	noisiest    = 3.0  // times the noise of the coast that a side of a step may have

	stepClear = 0.08 // s after a burnout and before an ignition that are the motor's
)

// stepSpans are the stretches on each side that are compared, in s: short enough for the air to be one.
var stepSpans = []float64{0.15, 0.3, 0.6}

// coasts looks for the strongest shock or change of drag in each coast: half a rocket has another mass
// and another drag.
func (a *axial) coasts(f *Flight) {
	for i := 0; i < len(f.Ascent); i++ {
		if f.Ascent[i].Kind != Coast {
			continue
		}
		j := i
		for j+1 < len(f.Ascent) && f.Ascent[j+1].Kind != Boost {
			j++
		}
		from, until := f.Ascent[i].From+stepClear, f.Ascent[j].Until-stepClear
		for k := i; k <= j; k++ {
			switch s := f.Ascent[k]; s.Kind {
			case Shock:
				if k < j && s.Until-s.From < longestBlow && s.Noise > strong*f.Ascent[k+1].Noise && a.neumann(s.first, s.last) > leastRing {
					f.Steps = append(f.Steps, Split{At: Edge{s.From, a.step}, Gain: stepGain, Shock: true})
				}
			case Braked: // what opens and shuts again leaves the same rocket
				f.Steps = append(f.Steps, a.split(from, s.From-a.step)...)
				from = s.Until + a.step
			}
		}
		f.Steps = append(f.Steps, a.split(from, until)...)
		i = j
	}
}

// neumann is the mean square successive difference over the variance (von Neumann 1941).
func (a *axial) neumann(i, j int) float64 {
	i, j = max(i-1, 0), min(j+1, len(a.raw))
	var m, d, v float64
	for k := i; k < j; k++ {
		m += a.raw[k] / float64(j-i)
	}
	for k := i; k < j; k++ {
		v += (a.raw[k] - m) * (a.raw[k] - m)
		if k > i {
			d += (a.raw[k] - a.raw[k-1]) * (a.raw[k] - a.raw[k-1])
		}
	}
	if v == 0 || j-i < 4 {
		return 0
	}
	return d / v
}

// split finds where two drags explain what is around better than one does, if anywhere.
func (a *axial) split(from, until float64) []Split {
	i, j := sorted(a.t, from), sorted(a.t, until)
	n := j - i
	if n < 30 {
		return nil
	}
	at := make([]sums, n+1)
	for k := range n {
		at[k+1] = at[k]
		at[k+1].sample(a.v[i+k]/100, a.x[i+k])
	}
	m := &models[Coast]
	like := func(from, until, p int) float64 {
		s := at[until]
		s.less(&at[from])
		return marginal(s.n, s.rss(p, 1), m.nu, m.s0) - 0.5*float64(p)*math.Log(s.n)
	}
	quiet := noisiest*differenceNoise(a.x[i:j]) + 0.05
	fits := func(from, until int) bool {
		s := at[until]
		s.less(&at[from])
		return s.n > 3 && s.rss(2, 1) < quiet*quiet*(s.n-2)
	}
	best, most := 0, math.Inf(-1)
	gains := make([]float64, n)
	for k := range gains {
		gains[k] = math.Inf(-1)
		for _, span := range stepSpans {
			w := max(int(span/a.step), 10)
			lo, hi := max(k-w, 0), min(k+w, n)
			if k-lo < 8 || hi-k < 8 || !fits(lo, k) || !fits(k, hi) {
				continue // a bump is no step
			}
			gains[k] = max(gains[k], like(lo, k, 2)+like(k, hi, 2)-like(lo, hi, 3)-math.Log(float64(n)))
		}
		if gains[k] > most {
			best, most = k, gains[k]
		}
	}
	if most < stepGain {
		return nil
	}
	var p0, s1, s2 float64
	for k, g := range gains {
		if p := math.Exp(g - most); p > 1e-12 {
			t := a.t[i+k] - a.t[i+best]
			p0, s1, s2 = p0+p, s1+p*t, s2+p*t*t
		}
	}
	s := Split{At: Edge{a.t[i+best] + s1/p0 - a.step/2, math.Sqrt(max(s2/p0-s1*s1/p0/p0, 0) + a.step*a.step/12)}, Gain: most}
	s.Step = a.level(i+best, min(i+best+int(0.2/a.step)+4, j)) - a.level(max(i+best-int(0.2/a.step)-4, i), i+best)
	if math.Abs(s.Step) <= stepLeast {
		return nil
	}
	return []Split{s}
}

func (a *axial) level(i, j int) float64 { return median(a.x[i:j]) }

func (s *sums) less(o *sums) {
	s.n -= o.n
	s.q -= o.q
	for k := range s.u {
		s.u[k] -= o.u[k]
	}
	for k := range s.b {
		s.b[k] -= o.b[k]
	}
}

// differenceNoise is the noise of neighbours, whose differences have twice its variance.
func differenceNoise(x []float64) float64 { return madSigma * median(differences(x)) / math.Sqrt2 }
