package examine

import (
	"cmp"
	"math"
	"slices"

	"drystage/sim"
)

const (
	trifle     = 2.0  // m: boards tell heights no better; common practice, no source
	byReceiver = 0.3  // of its harm that a receiver's does: most boards decide by pressure and acceleration
	reset      = 1e3  // m that a cut supply counts: the board loses all it knows
	perVolt    = 30.0 // m that a volt of sag counts: boards reset at some tenths of their supply
	unseen     = 10.0 // m/s2, a rocket's acceleration that a silent accelerometer does not tell
)

// Harm is about how wrong a board would have been about its height, in m, that believed what a finding tells of: of a
// height its error, of an acceleration what its integral makes of it until the apogee. It orders findings, no more.
func (r *Result) Harm(f *Finding) float64 {
	lasts := max(f.Until-f.From, 0)
	_, v := r.Path.at(f.From)
	v = math.Abs(v)
	left := 0.0
	if m, ok := r.first(Apogee); ok {
		left = max(m.At-f.Until, 0)
	}
	switch size := math.Abs(f.Size); {
	case f.Kind == ClockJump:
		return v * size
	case f.Part == sim.NoPart:
		return reset
	case f.Part == sim.PartBattery:
		return perVolt * size
	case f.Kind == Latency:
		for _, s := range r.Path.Speed {
			v = max(v, math.Abs(s))
		}
		return r.believed(f) * size * v
	case f.Kind == Drift:
		return r.believed(f) * r.carried(f, size*lasts/2, lasts, left)
	case f.Kind == Stuck || f.Kind == Dropout:
		if f.Part == sim.PartAccel || f.Part == sim.PartGyro {
			return r.carried(f, unseen, lasts, left)
		}
		return r.believed(f) * v * lasts
	case f.Kind == NoiseBurst && f.Part != sim.PartBaro:
		return r.carried(f, size*math.Sqrt(2*f.Within/max(lasts, f.Within)), lasts, left)
	default:
		return r.believed(f) * r.carried(f, size, lasts, left)
	}
}

// carried is what an error of a size makes of the height: itself where it is one of height.
func (r *Result) carried(f *Finding, size, lasts, left float64) float64 {
	if f.Part != sim.PartAccel && f.Part != sim.PartGyro {
		return size
	}
	if f.Part == sim.PartGyro {
		_, v := r.Path.at(f.Until)
		return size * lasts * math.Abs(v) / 2 * left // an angle, of whose square the height is short
	}
	return size * lasts * (lasts/2 + left)
}

func (r *Result) believed(f *Finding) float64 {
	if f.Part == sim.PartGNSS {
		return byReceiver
	}
	return 1
}

// Ranked gives the findings that matter, the gravest first, and the trifles, both by their number in Findings.
func (r *Result) Ranked() (grave, trifles []int) {
	for i := range r.Findings {
		if r.Harm(&r.Findings[i]) < trifle {
			trifles = append(trifles, i)
		} else {
			grave = append(grave, i)
		}
	}
	slices.SortStableFunc(grave, func(a, b int) int {
		return cmp.Compare(r.Harm(&r.Findings[b]), r.Harm(&r.Findings[a]))
	})
	return grave, trifles
}
