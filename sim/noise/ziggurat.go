package noise

import (
	"math"

	"drystage/sim/plain"
)

// The normal density without its constant, f(x) = exp(-x2/2), is covered by 256 layers of equal area; the lowest
// one holds the tail beyond tailStart. Method and the two numbers: Marsaglia and Tsang, "The ziggurat method for
// generating random variables", J. Stat. Softw. 5(8), 2000 (from memory; the test recomputes the area). Unlike in
// the paper, layer, sign and position in the layer come from separate bits.
const (
	tailStart = 3.6541528853610088
	layerArea = 0.00492867323399
	layers    = 256
)

// layer is one box of the ziggurat, from x = 0 to its width.
type layer struct {
	scale  float64 // width / 2^53
	inside uint64  // a 53-bit position below this is certainly under the curve
	low    float64 // f at the width: the height of the box's lower edge
	high   float64 // f at the width of the box above: the height of its upper edge
	base   bool    // the lowest, with the tail
}

var ziggurat = build()

// sureLayer is the part of a layer that nearly every number needs, kept together in memory.
type sureLayer struct {
	scale  float64
	inside uint64
}

var sure = func() (t [layers]sureLayer) {
	for i := range t {
		t[i] = sureLayer{ziggurat[i].scale, ziggurat[i].inside}
	}
	return t
}()

// build computes the layers from the tail upwards.
func build() (z [layers]layer) {
	base := plain.Exp(-tailStart * tailStart / 2)
	wide, next, low := layerArea/base, float64(tailStart), 0.0
	high := base
	for i := range z {
		z[i] = layer{
			scale: wide * 0x1p-53, inside: uint64(next / wide * 0x1p53),
			low: low, high: high, base: i == 0,
		}
		wide, low = next, high
		high = low + layerArea/wide
		next = 0
		if i < layers-2 {
			next = math.Sqrt(-2 * plain.Log(high))
		}
		if i == layers-2 { // the top box ends at the maximum of the curve
			high = 1
		}
	}
	return z
}

// value gives the number of 64 random bits: 8 choose the layer, one is the sign, 53 are the position in the layer.
func (l *sureLayer) value(u uint64) float64 { return signed(float64(int64(u>>11))*l.scale, u) }

func signed(x float64, u uint64) float64 {
	return math.Float64frombits(math.Float64bits(x) | u>>8<<63) // without a branch, which could not be predicted
}

// reject handles bits whose position may be outside the curve; if it is, new bits are drawn.
func (s *Stream) reject(u uint64) float64 {
	l := &ziggurat[u&0xff]
	if l.base {
		return signed(s.tail(), u)
	}
	x := float64(u>>11) * l.scale
	if y := l.low + float64(s.Uniform()*(l.high-l.low)); y < plain.Exp(-x*x/2) {
		return signed(x, u)
	}
	return s.Normal()
}

// tail gives a number of the normal distribution beyond tailStart: Marsaglia, "Generating a variable
// from the tail of the normal distribution", Technometrics 6, 1964 (from memory).
func (s *Stream) tail() float64 {
	for {
		x := -plain.Log(s.openUniform()) / tailStart
		if y := -plain.Log(s.openUniform()); y+y > x*x {
			return tailStart + x
		}
	}
}
