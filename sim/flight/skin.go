package flight

import (
	"math"

	"drystage/sim/plain"
)

// skin gives coefficients of skin friction of flat plates against their Reynolds number. Laminar:
// 1.328/sqrt(Re) (Blasius). Turbulent: 0.455/(log10 Re)^2.58, less 1700/Re for the laminar start
// (Prandtl and Schlichting, transition at 5e5). Grains of size k on a length l stop the fall of the
// turbulent coefficient at Re = 38.21 (l/k)^1.053. Handbook formulas, from memory.
type skin struct {
	table [skinOctaves * skinParts][4]float64 // of the turbulent coefficient over log2 Re
}

const (
	skinLowest  = 1 << 17 // Re; below, all is laminar
	skinOctaves = 18
	skinParts   = 8
)

// newSkin makes the table.
func newSkin() *skin {
	var s skin
	slope := func(re float64) float64 { return -2.58 * turbulent(re) / (re * plain.Log(re)) }
	for i := range s.table {
		low, high := skinFoot(i), skinFoot(i+1)
		s.table[i] = hermite(turbulent(low), turbulent(high), slope(low)*(high-low), slope(high)*(high-low))
	}
	return &s
}

func skinFoot(i int) float64 {
	return math.Ldexp(skinLowest*(1+float64(float64(i%skinParts)/skinParts)), i/skinParts)
}

// turbulent is 0.455/(log10 Re)^2.58.
func turbulent(re float64) float64 { return 0.455 / plain.Pow(plain.Log(re)/math.Ln10, 2.58) }

// roughLimit is the Reynolds number beyond which grains keep the turbulent coefficient from falling.
func roughLimit(length, grain float64) float64 {
	if grain <= 0 {
		return math.Inf(1)
	}
	return 38.21 * plain.Pow(max(length/grain, 1), 1.053)
}

// at gives the coefficient at a Reynolds number, with the limit of the roughness.
func (s *skin) at(re, limit float64) float64 {
	re = max(re, 100)
	laminar := 1.328 / math.Sqrt(re)
	if re < 2*skinLowest {
		return laminar
	}
	return max(laminar, s.smooth(min(re, limit))-1700/re)
}

// smooth reads the table.
func (s *skin) smooth(re float64) float64 {
	const shift = 52 - 3 // skinParts is 2 to the 3
	ratio := re / skinLowest
	if !(ratio > 1) {
		return s.table[0][0]
	}
	i := int(math.Float64bits(ratio)>>shift) - 1023*skinParts
	if i >= len(s.table) {
		i, ratio = len(s.table)-1, skinFoot(len(s.table))/skinLowest
	}
	foot := math.Float64frombits(uint64(i+1023*skinParts) << shift)
	width := math.Float64frombits(uint64(i/skinParts+1023)<<52) / skinParts
	return cubic(&s.table[i], (ratio-foot)/width)
}
