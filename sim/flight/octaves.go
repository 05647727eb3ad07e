package flight

import "math"

// octaves is a table of a smooth function of a positive number. Each octave has octaveParts cells of equal
// width, and each cell holds the cubic with the function's values and slopes at its ends. Beyond either end of
// the table the function keeps its last value.
type octaves struct {
	scale float64 // 1 over the start of the table; a power of two, so multiplying is exact
	cells [][4]float64
}

const (
	octaveShift = 3 // octaveParts is 2 to this power
	octaveParts = 1 << octaveShift
)

// newOctaves makes the table from a function and its slope; slope takes x and the value there. lowest is a
// power of two.
func newOctaves(lowest float64, count int, value func(x float64) float64, slope func(x, y float64) float64) octaves {
	o := octaves{scale: 1 / lowest, cells: make([][4]float64, count*octaveParts)}
	low := o.cellStart(0)
	a := value(low)
	for i := range o.cells {
		high := o.cellStart(i + 1)
		b, width := value(high), high-low
		o.cells[i] = hermite(a, b, float64(slope(low, a)*width), float64(slope(high, b)*width))
		low, a = high, b
	}
	return o
}

// cellStart gives where cell i begins.
func (o *octaves) cellStart(i int) float64 {
	return math.Ldexp((1+float64(float64(i%octaveParts)/octaveParts))/o.scale, i/octaveParts)
}

// at gives the function's value. The exponent and the top bits of the fraction of x say which cell it
// lies in.
func (o *octaves) at(x float64) float64 {
	const shift = 52 - octaveShift
	ratio := float64(x * o.scale)
	if !(ratio > 1) {
		return o.cells[0][0]
	}
	i := int(math.Float64bits(ratio)>>shift) - 1023*octaveParts
	if i >= len(o.cells) {
		i, ratio = len(o.cells)-1, float64(o.cellStart(len(o.cells))*o.scale)
	}
	start := math.Float64frombits(uint64(i+1023*octaveParts) << shift)
	perWidth := math.Float64frombits(uint64(octaveShift-i/octaveParts+1023) << 52) // a power of two, so multiplying is exact
	return cubic(&o.cells[i], float64((ratio-start)*perWidth))
}
