package sensor

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
)

// tone is a tone with harmonics, whose frequency wanders. Its phase at the samples is exact, so that a tone beyond half
// the rate shows where it folds to.
type tone struct {
	sim.Tone
	period  float64
	cut     float64 // Hz, of the part's low-pass; 0: none
	wander  gaussMarkov
	phase   float64 // rad, of the fundamental, at the sample
	turn    float64 // rad, since the sample before
	current float64 // rad, at a step
}

func newTone(t *sim.Tone, cut, period float64, random *noise.Stream) tone {
	return tone{Tone: *t, period: period, cut: cut, phase: float64(2 * math.Pi * random.Uniform()),
		wander: newGaussMarkov(sim.GaussMarkov{Sigma: t.Wander, Time: t.Time}, period, random)}
}

// orders is how many frequencies the tone has.
func (t *tone) orders() int { return max(t.Harmonics, 1) }

// advance goes on by one sample.
func (t *tone) advance() {
	t.turn = float64(float64(2*math.Pi*t.Frequency*t.period) * (1 + t.wander.next()))
	t.phase += t.turn
	if turns := math.Floor(t.phase / (2 * math.Pi)); turns != 0 {
		t.phase -= float64(turns * (2 * math.Pi))
	}
	t.current = t.phase
}

// beginSteps goes on by one sample, and puts the current instant at the sample before.
func (t *tone) beginSteps() {
	t.advance()
	t.step(0)
}

// step puts the current instant at a share of the time between the samples.
func (t *tone) step(share float64) { t.current = t.phase - float64((1-share)*t.turn) }

// now is the value at the current instant.
func (t *tone) now() float64 { return t.sum(t.current, 0) }

// filtered is the value at the sample behind the low-pass 1/(1 + i f/cut): in its steady state, since a frequency
// wanders slowly.
func (t *tone) filtered() float64 {
	if t.cut <= 0 {
		return t.sum(t.phase, 0)
	}
	return t.sum(t.phase, t.Frequency/t.cut)
}

// sum adds the harmonics at a phase of the fundamental; ratio is that of its frequency to a low-pass, 0: none.
func (t *tone) sum(phase, ratio float64) float64 {
	s, c := plain.Sincos(phase)
	sh, ch, sum := s, c, 0.0
	for h := 1; h <= t.orders(); h++ {
		r := float64(ratio * float64(h))
		sum += (sh - float64(r*ch)) / float64(float64(h)*(1+float64(r*r)))
		sh, ch = float64(sh*c)+float64(ch*s), float64(ch*c)-float64(sh*s)
	}
	return float64(math.Sqrt2 * t.Share * sum)
}
