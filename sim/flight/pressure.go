package flight

import (
	"math"

	"drystage/sim/plain"
)

// impactRatio is impact pressure over dynamic pressure: isentropic below Mach 1, behind a normal shock
// (Rayleigh) above.
func impactRatio(mach float64) float64 {
	m2 := float64(mach * mach)
	switch {
	case m2 < 1e-4:
		return 1 + float64(m2/4)
	case m2 <= 1:
		return (plain.Pow(1+float64(0.2*m2), 3.5) - 1) / (0.7 * m2)
	}
	// p02/p = (1.2 M^2)^3.5 * (6/(7 M^2 - 1))^2.5
	p := float64(plain.Pow(1.2*m2, 3.5) * plain.Pow(6/(float64(7*m2)-1), 2.5))
	return (p - 1) / (0.7 * m2)
}

// baseDrag is the drag coefficient of a blunt base, on its area: 0.12 + 0.13 M^2 below Mach 1, 0.25/M
// above (Fleeman, Tactical Missile Design; from memory).
func baseDrag(mach float64) float64 {
	if mach < 1 {
		return 0.12 + float64(0.13*float64(mach*mach))
	}
	return 0.25 / mach
}

// flatFace is the mean pressure coefficient over a flat front, as a share of impact pressure. From
// memory of handbook values.
const flatFace = 0.85

// waveDrag is the supersonic pressure drag of a pointed nose of fineness f on its base area:
// (1.59 + 1.83/M^2) atan(0.5/f)^1.69 (Bonney 1950, as Fleeman gives it; from memory), which begins
// between Mach 0.8 and 1.2.
func waveDrag(mach, f float64) float64 {
	m := max(mach, 1)
	return float64(waveDragOnset(mach) * (1.59 + 1.83/float64(m*m)) * plain.Pow(max(plain.Atan2(0.5, f), 1e-6), 1.69))
}

// waveDragOnset rises smoothly from 0 at Mach 0.8 to 1 at Mach 1.2; common practice, no source.
func waveDragOnset(mach float64) float64 {
	x := clamp((mach-0.8)/0.4, 0, 1)
	return float64(float64(x*x) * (3 - float64(2*x)))
}

// thinWave is the supersonic wave drag of a double wedge of a thickness ratio on its planform:
// 4 (t/c)^2/sqrt(M^2 - 1) (Ackeret's linear theory), held at its value of Mach 1.2 below.
func thinWave(mach, ratio float64) float64 {
	m := max(mach, 1.2)
	return float64(waveDragOnset(mach) * 4 * float64(ratio*ratio) / math.Sqrt(float64(m*m)-1))
}

// tailSeparation is the share of a boat-tail's lost area that counts as base: none up to a half-angle
// of 8 degrees, where the flow follows, all of it from 20 degrees. Common practice, no source.
func tailSeparation(half float64) float64 {
	const first, last = 8 * math.Pi / 180, 20 * math.Pi / 180
	return clamp((half-first)/(last-first), 0, 1)
}
