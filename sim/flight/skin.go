package flight

import (
	"math"

	"drystage/sim/plain"
)

// skin gives coefficients of skin friction of flat plates against their Reynolds number. Laminar:
// 1.328/sqrt(Re) (Blasius). Turbulent: 0.455/(log10 Re)^2.58, less 1700/Re for the laminar start
// (Prandtl and Schlichting, transition at 5e5). With a roughness of height k on a length l the turbulent
// coefficient is constant above Re = 38.21 (l/k)^1.053, and in transonic and supersonic flow above
// 44.62 (l/k)^1.053 M^1.16 (Raymer). Handbook formulas, from memory.
type skin struct {
	smooth octaves // the turbulent coefficient
}

const (
	skinLowest  = 1 << 11 // Re, of the table: rough skin has the turbulent coefficient of its low limit
	skinOctaves = 24
	lastLaminar = 1 << 18 // Re; below, all is laminar
)

// newSkin makes the table.
func newSkin() *skin {
	slope := func(re, c float64) float64 { return -2.58 * c / (re * plain.Log(re)) }
	return &skin{newOctaves(skinLowest, skinOctaves, turbulent, slope)}
}

// turbulent is 0.455/(log10 Re)^2.58.
func turbulent(re float64) float64 { return 0.455 / plain.Pow(plain.Log(re)/math.Ln10, 2.58) }

// roughLimit is the Reynolds number at low speed above which roughness keeps the turbulent coefficient constant.
func roughLimit(length, grain float64) float64 {
	if grain <= 0 {
		return math.Inf(1)
	}
	return 38.21 * plain.Pow(max(length/grain, 1), 1.053)
}

// roughRise is the factor on roughLimit at a Mach number, where it is above 1: the supersonic formula takes over where
// it is the larger one, at Mach 0.875.
func roughRise(mach float64) float64 { return 44.62 / 38.21 * plain.Pow(max(mach, 0.01), 1.16) }

// at gives the coefficient at a Reynolds number, with the limit of the roughness.
func (s *skin) at(re, limit float64) float64 {
	re = max(re, 100)
	laminar := 1.328 / math.Sqrt(re)
	if re < lastLaminar {
		return laminar
	}
	return max(laminar, s.smooth.at(min(re, limit))-1700/re)
}
