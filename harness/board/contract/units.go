package contract

import (
	"math"

	"drystage/sim"
)

// Integer is an integer type of the contract.
type Integer interface {
	uint8 | uint16 | uint32 | int16 | int32
}

// Count rounds a number to an integer, half away from zero. Beyond the type's range it gives the nearest limit; NaN
// gives 0.
func Count[T Integer](x float64) T {
	if math.Abs(x) < 1<<33 { // which is beyond every type's range
		n := nearest(x)
		if t := T(n); int64(t) == n {
			return t
		}
	}
	least, most := bounds[T]()
	switch {
	case x != x:
		return 0
	case x < 0:
		return T(least)
	}
	return T(most)
}

// nearest rounds to the nearest whole number, half away from zero, while that is below 2^52.
func nearest(x float64) int64 {
	n := int64(x)
	return n + int64(2*(x-float64(n))) // the fraction and its double are exact
}

// count32 is Count[int32], but faster: most numbers of a run are of this type.
func count32(x float64) int32 {
	if math.Abs(x) < math.MaxInt32 {
		return int32(nearest(x))
	}
	return Count[int32](x)
}

// counts32 is count32 of three numbers at once.
func counts32(x, y, z float64) (a, b, c int32) {
	if math.Abs(x) < math.MaxInt32 && math.Abs(y) < math.MaxInt32 && math.Abs(z) < math.MaxInt32 {
		return int32(nearest(x)), int32(nearest(y)), int32(nearest(z))
	}
	return Count[int32](x), Count[int32](y), Count[int32](z)
}

func bounds[T Integer]() (least, most float64) {
	switch any(T(0)).(type) {
	case uint8:
		return 0, math.MaxUint8
	case uint16:
		return 0, math.MaxUint16
	case uint32:
		return 0, math.MaxUint32
	case int16:
		return math.MinInt16, math.MaxInt16
	}
	return math.MinInt32, math.MaxInt32
}

// Milli gives thousandths of an SI value: mm, mm/s, mm/s2, a setting.
func Milli(x float64) int32 { return count32(x * 1e3) }

// FromMilli gives the SI value of thousandths.
func FromMilli(n int32) float64 { return float64(n) / 1e3 }

// Micros gives a time in whole microseconds, half rounded up. Times before the run give 0, times beyond 71 minutes
// the greatest integer.
func Micros(t sim.Time) uint32 {
	switch {
	case t <= 0:
		return 0
	case t >= math.MaxUint32*sim.Microsecond:
		return math.MaxUint32
	}
	return uint32((t + sim.Microsecond/2) / sim.Microsecond)
}

// FromMicros converts microseconds to a time.
func FromMicros(us uint32) sim.Time { return sim.Time(us) * sim.Microsecond }

// PutText fills a text field with the first bytes of s, and zeros. Bytes that are not printable ASCII become question
// marks.
func PutText(field []byte, s string) {
	clear(field)
	for i := range min(len(field), len(s)) {
		field[i] = s[i]
		if s[i] < ' ' || s[i] > '~' {
			field[i] = '?'
		}
	}
}

// Text gives the text of a text field or a tail, up to its first zero byte. Bytes that are not printable ASCII become
// question marks, so that a board's text can't control a terminal.
func Text(field []byte) string {
	b := make([]byte, 0, len(field))
	for _, c := range field {
		if c == 0 {
			break
		}
		if c < ' ' || c > '~' {
			c = '?'
		}
		b = append(b, c)
	}
	return string(b)
}
