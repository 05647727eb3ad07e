package examine

import (
	"fmt"
	"math"
	"slices"

	"drystage/sim"
)

const (
	chargeSpan    = 0.25 // s on each side that a short rise of pressure is held against
	chargeSigmas  = 8.0  // of the barometer's noise around it: one sample in 1e15 by chance
	chargeLeast   = 40.0 // m, some 5 hPa: less than charges of the trade make of a bay's pressure; common practice, no source
	chargeLongest = 0.35 // s: the gas of a charge leaves a bay through its vents and its open end; common practice, no source
	chargeNear    = 2.0  // s from an apogee or a deployment at which charges fire
	chargePrior   = 0.5  // that a firing raises the bay's pressure
	chargeAlone   = 0.1  // of spikePrior, that a charge fires where nothing opens
	chargeSharp   = 0.1  // s: where nothing opens, what lasts longer is looked at as any bump is
	spikePrior    = 0.02 // that a barometer makes up such a rise just then
)

// charges finds short rises of the pressure on the way down, or just before it: the gas of a charge, or the
// sensor's own. They read as dents of the height.
func (e *examiner) charges() {
	b := e.baro
	if b == nil || b.part != sim.PartBaro {
		return
	}
	e.gases()
	arm := max(int(chargeSpan/b.step), 4)
	usual := aroundMedian(b.x, arm, max(b.index(e.top-chargeNear)-arm, 0))
	off := func(i int) float64 { return b.x[i] - usual[i] }
	calm := func(i, j int, size float64) bool { // a charge is alone, and the height is as before afterwards
		for k := max(i-arm, 0); k < min(j+arm, len(b.x)); k++ {
			if (k < i-2 || k >= j+2) && math.Abs(off(k)) > math.Abs(size)/4 {
				return false
			}
		}
		return i < arm || j+arm > len(b.x) || math.Abs(b.step2(i, j, arm)) < math.Abs(size)/4
	}
	until := e.end
	if e.down > 0 {
		until = e.down - 0.5
	}
	for i := b.index(e.top - chargeNear); i < len(b.x) && b.t[i] < until; i++ {
		bound := -max(chargeSigmas*b.sigma, chargeLeast)
		if b.mask[i] || off(i) > bound {
			continue
		}
		j, most := i, 0.0
		for ; j < len(b.x) && off(j) < bound/2; j++ {
			most = min(most, off(j))
		}
		if b.t[j-1]-b.t[i] <= chargeLongest && calm(i, j, most) {
			e.charge(i, j, most)
		}
		i = j
	}
}

func (e *examiner) charge(i, j int, size float64) {
	b := e.baro
	f := Finding{Kind: Spike, Part: b.part, Axis: b.axis, From: b.t[i] - b.step/2, Until: b.t[j-1] + b.step/2, Within: b.step, Size: size, SizeWithin: 2 * b.sigma, Strength: -size / b.sigma}
	e.absorbPeak(&f)
	charge := Explanation{Cause: Pressured, For: []string{fmt.Sprintf("the pressure rises and falls back within %.2f s, as the gas of a charge does", f.Until-f.From)}}
	own := Explanation{Cause: Sensor, Against: []string{"a part's own spikes go either way, at any time"}}
	prior := spikePrior
	near := math.Abs(f.From - e.top)
	for _, m := range e.marks {
		near = min(near, math.Abs(f.From-m))
	}
	if near < chargeNear {
		prior = chargePrior
		charge.For = append(charge.For, fmt.Sprintf("it lies %.2f s from an apogee or a deployment, when charges fire", near))
	} else {
		charge.Against = append(charge.Against, "no canopy opens near it")
		prior *= chargeAlone
	}
	if near >= chargeNear && f.Until-f.From > chargeSharp {
		return // a bump like any other: its shape is fitted with the rest
	}
	w := shares(math.Log(prior), math.Log(spikePrior/2)) // half of a part's own are falls
	charge.Share, own.Share = w[0], w[1]
	f.Explanations = []Explanation{charge, own}
	if w[1] > w[0] {
		f.Explanations = []Explanation{own, charge}
	}
	b.hide(f.From-b.step, max(f.Until+b.step, f.From+chargeLongest)) // the last of the gas leaves slowly
	e.found(f)
}

// absorbPeak takes a single sample that was found to stand out in a charge for its peak: gas rises within a sample.
func (e *examiner) absorbPeak(f *Finding) {
	e.res.Findings = slices.DeleteFunc(e.res.Findings, func(x Finding) bool {
		in := x.Kind == Spike && x.Part == f.Part && x.Until-x.From < 1.5*e.baro.step && x.Size < 0 && x.Until > f.From-e.baro.step/2 && x.From < f.Until
		if in {
			f.From, f.Size = min(f.From, x.From), min(f.Size, f.Size+x.Size)
		}
		return in
	})
}

// step2 is by how much a channel is higher behind some samples than before them, beyond what its slopes on both sides say.
func (g *signal) step2(i, j, arm int) float64 {
	before, after := median(g.x[i-arm:i-1]), median(g.x[j+1:j+arm])
	half := arm / 2
	slope := (median(g.x[i-half:i-1]) - median(g.x[i-arm:i-half]) + median(g.x[j+half:j+arm]) - median(g.x[j+1:j+half])) / float64(arm)
	return after - before - slope*float64(j-i+arm)
}

// aroundMedian is the running median over arm samples on either side, from a sample on: taken at every quarter of an arm, and
// in straight lines between.
func aroundMedian(x []float64, arm, from int) []float64 {
	out := make([]float64, len(x))
	every := max(arm/4, 1)
	for i := from; i < len(x); i += every {
		out[i] = median(x[max(i-arm, 0):min(i+arm+1, len(x))])
		for k := i - every + 1; k < i && i > from; k++ {
			out[k] = out[i-every] + (out[i]-out[i-every])*float64(k-i+every)/float64(every)
		}
		for k := i + 1; k < min(i+every, len(x)); k++ {
			out[k] = out[i]
		}
	}
	return out
}
