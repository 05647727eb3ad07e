package flight

import (
	"math"

	"drystage/sim"
)

// finPart gives the normal force at low speed of a set of fins on a body of radius r (Barrowman 1966 eq. 58, 76,
// 77) at its place in the stage, and its roll. One or two fins count as evenly spread, like three and more. More than
// four disturb each other; their roll is left as it is.
func finPart(f *sim.Fins, r float64) (part, roll) {
	n, chords := float64(f.Count), f.Root+f.Tip
	if f.Count <= 0 || chords <= 0 || f.Span <= 0 {
		return part{place: f.Station}, roll{}
	}
	middle := math.Sqrt(square(f.Span) + square(f.Sweep+float64((f.Tip-f.Root)/2))) // the mid-chord line
	// 4 N (s/d)^2/(1 + sqrt(1 + (2 l/(Cr+Ct))^2)) on pi d^2/4
	alone := math.Pi * n * f.Span * f.Span / (1 + math.Sqrt(1+square(2*middle/chords)))
	interference := crowding(f.Count) * (1 + r/(f.Span+r))
	place := f.Station + float64(f.Sweep/3*(f.Root+float64(2*f.Tip))/chords) + float64((chords-float64(f.Root*f.Tip)/chords)/6)
	area := f.Span * chords / 2
	p := part{place: place, fin: alone * interference / 2, cross: crossPlate * n / 2 * area / 2, machTable: newFinMachTable(f, middle)}
	return p, finRoll(f, r, 2*alone/(n*area))
}

// crowding is the share of their normal force that so many fins keep beside each other (MIL-HDBK-762, from memory).
func crowding(fins int) float64 {
	switch {
	case fins <= 4:
		return 1
	case fins == 5:
		return 0.948
	case fins == 6:
		return 0.913
	case fins == 7:
		return 0.854
	}
	return 0.81 // of 8; files have no more
}

func square(x float64) float64 { return float64(x * x) }

// roll holds the roll of the fins by strip theory: each strip of a fin at radius y meets the air at
// the cant minus p*y/u.
type roll struct {
	force float64 // m3: half of N * slope * cant * integral of y c dy
	damp  float64 // m4: half of N * slope * integral of y^2 c dy (Barrowman's bracket for roll damping)
	drag  float64 // m5: half of N * plate drag * integral of y^3 c dy

	machTable    *finMachTable // of the set with the most roll damping; used for all sets
	dominantDamp float64       // m4, the damping of that set
}

// useDominant keeps the Mach table of the set with the most roll damping.
func (r *roll) useDominant(p *part, o *roll) {
	if o.damp > r.dominantDamp {
		r.dominantDamp, r.machTable = o.damp, p.machTable
	}
}

func (r *roll) add(o roll) {
	r.force += o.force
	r.damp += o.damp
	r.drag += o.drag
}

// finRoll takes the slope of one fin on its own area, per radian.
func finRoll(f *sim.Fins, r, slope float64) roll {
	s, n := f.Span, float64(f.Count)
	one := float64(r*s*(f.Root+f.Tip)/2) + float64(s*s*(f.Root+float64(2*f.Tip))/6)
	two := float64(r*r*s*(f.Root+f.Tip)/2) + float64(r*s*s*(f.Root+float64(2*f.Tip))/3) + float64(s*s*s*(f.Root+float64(3*f.Tip))/12)
	return roll{
		force: n / 2 * slope * one * f.Cant,
		damp:  n / 2 * slope * two,
		drag:  n / 2 * crossPlate * two * (r + float64(s/2)), // within a few per cent of the integral
	}
}
